"""Marks by the frame board: a part's line of sight is kept, and found again in another phone's picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from test_tags import PICTURE, Camera, board_path, camera

from shared.domain import Track
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from shared.places import Sight
from shared.report_machine import MachinePart
from tests.check_sets import track
from tests.stick_sets import judged, knee_motion
from tests.unit.test_pivot import mark
from vision.judging.options import Options
from vision.measuring.machine.board import Board, board_points, find_board
from vision.measuring.machine.load import cm_per_px
from vision.measuring.machine.pad import pad_signals
from vision.measuring.machine.places import MOST_OFF_CM, NO_BOARD, PlacedPath, kept_sights, place_marks
from vision.measuring.machine.seat_edge import seat_signal
from vision.measuring.machine.shown import Machine, read_machine
from vision.measuring.machine.sight_lines import agreeing, meet
from vision.seeing.marks import MarkPath, MarkPoint
from vision.seeing.tags import TagPath
from vision.telling.machine_report import machine_notes, machine_part

LENS = 1507.0
#: An axis 70 cm beside the board's middle and 65 below it, 11 cm nearer to the phone than the sheet.
AXIS = np.array([-70.0, 65.0, -11.0])


def phone(turn_deg: float, focal: float = LENS, far_cm: float = 300.0, down_deg: float = 4.0) -> Camera:
    return camera(turn_deg, down_deg, focal=focal, far_cm=far_cm, aside_deg=8.0)


def board_tag(shows: Camera, noise_px: float = 0.1) -> TagPath:
    return board_path(shows(board_points()), noise_px)


def at(shows: Camera, point: np.ndarray) -> np.ndarray:
    return shows(point[None])[0]


def marked(xy: np.ndarray, tag: TagPath, name: str = "pivot", shift: float = 0.0) -> MarkPath:
    """A mark that was given at a pixel, in a picture that the hand that films has moved by ``shift`` px."""
    steady = np.tile(xy, (len(tag.time_s), 1))
    point = MarkPoint(name, float(xy[0]), float(xy[1]))  # type: ignore[arg-type]
    return MarkPath(point, tag.time_s, steady + shift, steady, np.ones(len(steady)))


def sight(shows: Camera, point: np.ndarray = AXIS, name: str = "pivot") -> Sight:
    tag = board_tag(shows)
    (found,) = kept_sights({"board": tag, name: marked(at(shows, point), tag, name)}, board_of(tag))
    return found


def board_of(tag: TagPath) -> Board:
    return find_board(tag, PICTURE)


def placed_at(sights: list[Sight], shows: Camera, **marks: MarkPath) -> PlacedPath:
    tag = board_tag(shows)
    return dict(place_marks(sights, {"board": tag, **marks}, board_of(tag)).marks)["pivot"]


def off_cm(path: MarkPath, shows: Camera, far_cm: float = 300.0, focal: float = LENS) -> float:
    return float(np.linalg.norm(np.median(path.steady_px, axis=0) - at(shows, AXIS)) * far_cm / focal)


def test_a_part_marked_once_is_found_by_a_phone_that_stands_alike() -> None:
    path = placed_at([sight(phone(5.0))], phone(6.0))
    assert path.point.name == "pivot" and path.seen.all()
    assert off_cm(path, phone(6.0)) < 1.0 and off_cm(path, phone(6.0)) < path.half_cm < MOST_OFF_CM


def test_from_elsewhere_nothing_is_guessed_and_the_half_width_says_why() -> None:
    tag = board_tag(phone(25.0))
    placed = place_marks([sight(phone(5.0))], {"board": tag}, board_of(tag))
    assert placed.marks == {} and placed.too_unsure["pivot"] > MOST_OFF_CM


def test_marked_from_two_places_it_holds_between_them() -> None:
    both = [sight(phone(2.0)), sight(phone(16.0))]
    assert meet(both).point == pytest.approx(AXIS, abs=4.0)
    between = phone(9.0)
    assert off_cm(placed_at(both, between), between) < 1.0
    tag = board_tag(between)
    assert place_marks(both[:1], {"board": tag}, board_of(tag)).marks == {}


def test_what_was_moved_since_is_forgotten() -> None:
    moved = AXIS + np.array([6.0, 0.0, 0.0])
    before, since = [sight(phone(turn)) for turn in (4.0, 6.0)], sight(phone(5.0), moved)
    assert len(agreeing(before)) == 2
    assert agreeing([*before, since]) == [since]
    path = placed_at([*before, since], phone(5.0))
    assert np.linalg.norm(np.median(path.steady_px, axis=0) - at(phone(5.0), moved)) * 300 / LENS < 1.0


def test_a_mark_given_by_hand_goes_before() -> None:
    tag = board_tag(phone(5.0))
    own = marked(np.array([500.0, 500.0]), tag)
    placed = place_marks([sight(phone(5.0))], {"board": tag, "pivot": own}, board_of(tag))
    assert placed.marks == {} and placed.why == ""


def test_without_the_board_it_says_so_and_takes_nothing() -> None:
    placed = place_marks([sight(phone(5.0))], {}, None)
    assert placed.marks == {} and placed.why == NO_BOARD
    hidden = board_tag(phone(5.0))
    hidden.corners_px[:, 8:] = np.nan
    placed = place_marks([sight(phone(5.0))], {"board": hidden}, board_of(hidden))
    assert placed.marks == {} and "too few" in placed.why
    assert kept_sights({"board": hidden, "pivot": marked(np.zeros(2), hidden)}, board_of(hidden)) == ()


def test_a_hand_that_moves_the_phone_moves_the_mark_and_not_what_is_kept() -> None:
    tag = board_tag(phone(5.0))
    shaken = replace(tag, xy_px=tag.steady_px + 30.0)
    xy = at(phone(5.0), AXIS)
    (still,) = kept_sights({"board": tag, "pivot": marked(xy, tag)}, board_of(tag))
    (moved,) = kept_sights({"board": shaken, "pivot": marked(xy, tag, shift=30.0)}, board_of(shaken))
    assert moved == still
    path = place_marks([still], {"board": shaken}, board_of(shaken)).marks["pivot"]
    assert path.xy_px == pytest.approx(path.steady_px + 30.0)


def test_what_moves_is_not_kept() -> None:
    tag = board_tag(phone(5.0))
    marks = {
        name: marked(np.array([500.0, 500.0]), tag, name) for name in ("stack", "handle", "knee", "seat")
    }
    assert [s.name for s in kept_sights({"board": tag, **marks}, board_of(tag))] == ["seat"]


def test_of_a_pad_both_ends_are_told_or_none() -> None:
    sure, unsure = (
        sight(phone(5.0), AXIS, "pad"),
        sight(phone(5.0), AXIS - np.array([0.0, 40.0, 0.0]), "pad_end"),
    )
    unsure = unsure.model_copy(update={"half_cm": 5.0})
    tag = board_tag(phone(5.0))
    assert place_marks([sure, unsure], {"board": tag}, board_of(tag)).marks == {}
    alone = place_marks([sure], {"board": tag, "pad_end": marked(np.zeros(2), tag)}, board_of(tag))
    assert set(alone.marks) == {"pad"}


def set_with(sights: list[Sight], shows: Camera, **marks: MarkPath) -> Machine:
    """What the machine shows in a set of leg extensions whose clip shows its board."""
    told = judged(knee_motion())
    assert told.track is not None
    track = replace(told.track, picture=PICTURE)
    tag = board_tag(shows)
    return read_machine(
        {"board": tag, **marks}, track, told.signals, find_exercise("leg-extension"), told.reps, sights=sights
    )


def test_the_report_says_which_marks_are_the_board_s_and_how_sure() -> None:
    machine = set_with([sight(phone(5.0))], phone(6.0))
    assert machine.pivot is not None, "the axis is beside the knee as a marked one is"
    part = machine_part(machine, None, 15.0)
    assert part is not None and part.sights == []
    (mark,) = [m for m in part.marks if m.name == "pivot"]
    assert mark.board_half_cm == pytest.approx(machine.placed.marks["pivot"].half_cm, abs=1e-3)
    notes = machine_notes(machine, find_exercise("leg-extension"), usable=True)
    assert any(note.startswith("Marks from the board: pivot, give or take 1.") for note in notes)
    assert not any("nobody pointed" in note for note in notes)


def test_a_mark_that_the_board_gives_makes_its_measure_less_sure() -> None:
    by_board = set_with([sight(phone(5.0))], phone(6.0))
    tag = board_tag(phone(6.0))
    by_hand = set_with([], phone(6.0), pivot=marked(at(phone(6.0), AXIS), tag))
    assert by_board.pivot is not None and by_hand.pivot is not None
    more = np.hypot(by_hand.pivot.half, by_board.placed.marks["pivot"].half_cm * cm(by_hand))
    assert by_board.pivot.half == pytest.approx(more)


def cm(machine: Machine) -> float:
    """The pivot's unit to a cm."""
    assert machine.pivot is not None
    return 1.0 if machine.pivot.unit == "cm" else 1.0 / 48.0


def test_marks_that_the_board_cannot_give_are_asked_for() -> None:
    machine = set_with([sight(phone(5.0))], phone(25.0))
    notes = " ".join(machine_notes(machine, find_exercise("leg-extension"), usable=True))
    assert "Not taken from the board: pivot, give or take" in notes and "mark them in this clip too" in notes


def test_what_was_marked_by_hand_is_kept_in_the_report_and_reads_back() -> None:
    tag = board_tag(phone(5.0))
    machine = set_with([], phone(5.0), pivot=marked(at(phone(5.0), AXIS), tag))
    part = machine_part(machine, None, 15.0)
    assert part is not None
    (kept,) = part.sights
    assert MachinePart.model_validate_json(part.model_dump_json()).sights == [kept]
    path = placed_at([kept], phone(5.0))
    assert off_cm(path, phone(5.0)) < 0.1, "rounded, it is the same place"


def test_places_reach_the_check_of_a_set() -> None:
    told = judged(knee_motion(), options=Options(sights=(sight(phone(5.0)),)))
    assert f"No mark was taken from the board: {NO_BOARD}." in told.report.quality.notes
    assert not any("board" in note for note in judged(knee_motion()).report.quality.notes)


def test_a_pad_and_a_seat_that_the_board_gives_are_told_less_surely() -> None:
    one = track("side", np.arange(30) / 30)
    one.points_px[:, INDEX["left_knee"]], one.points_px[:, INDEX["left_ankle"]] = (400, 600), (400, 760)
    given = [
        mark(one, name, 370.0, y, 0.0) for name, y in (("pad", 600.0), ("pad_end", 400.0), ("seat", 660.0))
    ]
    taken = [PlacedPath(**vars(path), half_cm=2.0) for path in given]
    trunk = 2.0 / (cm_per_px(one) * one.trunk_px)
    for by_hand, by_board in zip(measures(given, one), measures(taken, one), strict=True):
        assert by_board == pytest.approx(np.hypot(by_hand, trunk))


def measures(marks: list[MarkPath], one: Track) -> tuple[float, float]:
    """The half-widths of the gaps at pad and seat, trunk lengths."""
    gap = seat_signal(marks[2], one)
    assert gap is not None
    return pad_signals(marks[0], marks[1], one)["pad_gap"].clip_half, gap.clip_half
