"""A load let fall, a hurried or an uneven repetition is drawn as it went, beside the set's best one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.report import FindingPart
from tests.samples import checked
from vision.telling.analysis import Analysis
from vision.telling.paths import MARK_S, Stretch, _path, like, path_picture, timed
from vision.telling.pictures import shot_of
from vision.telling.strokes import MARKED, TEXT


def _set() -> Analysis:
    return checked("leg-curl-faulty")[0]


def _found(check: str) -> FindingPart:
    """What a check says of the load let fall in the seventh repetition, whatever its verdict."""
    return next(f for f in _set().report.findings if (f.check, f.rep) == (check, 7))


def test_a_finding_about_time_is_about_the_phase_it_was_measured_in() -> None:
    let_fall = timed(_set(), _found("dropped-load"))
    assert let_fall is not None and let_fall.rep.number == 7
    assert (let_fall.start_s, let_fall.end_s) == (let_fall.rep.lower_start_s, let_fall.rep.end_s)
    assert timed(_set(), _found("knee-lockout")) is None, "an angle shows in a still by itself"


def test_beside_it_lies_the_same_phase_of_the_best_repetition() -> None:
    let_fall = timed(_set(), _found("dropped-load"))
    assert let_fall is not None
    other = like(_set(), let_fall)
    assert other is not None and other.rep.number not in {7, *(f.rep for f in _set().report.flags())}
    assert (other.start_s, other.end_s) == (other.rep.lower_start_s, other.rep.end_s)


def test_an_uneven_set_is_shown_by_its_oddest_repetition_from_beginning_to_end() -> None:
    uneven = _found("too-fast").model_copy(update={"check": "uneven-tempo", "rep": None, "time_s": None})
    found = timed(_set(), uneven)
    full = _set().reps.full  # type: ignore[union-attr]
    usual = np.median([r.duration_s for r in full])
    assert found is not None and (found.start_s, found.end_s) == (found.rep.start_s, found.rep.end_s)
    assert abs(found.rep.duration_s - usual) == max(abs(r.duration_s - usual) for r in full)
    assert shot_of(_set(), uneven) is not None, "although it has no moment of its own"
    beside = like(_set(), found)
    assert beside is not None and (beside.start_s, beside.end_s) == (beside.rep.start_s, beside.rep.end_s)


@pytest.mark.parametrize("seconds", [0.5, 1.6])
def test_there_are_ten_marks_a_second(seconds: float) -> None:
    rep = _set().reps.full[0]  # type: ignore[union-attr]
    _, ticks = _path(_set(), Stretch(rep, rep.start_s, rep.start_s + seconds), 1.0, rep.start_s)
    assert len(ticks) == round(seconds / MARK_S) + 1


def test_a_path_lies_on_the_picture_it_is_drawn_on_although_the_phone_slipped_on_the_way() -> None:
    """It slips by 60 px half a second before the middle of the repetition, whose picture is shown."""
    track = _set().track
    rep = _set().reps.full[0]  # type: ignore[union-attr]
    assert track is not None
    way = Stretch(rep, rep.start_s, rep.end_s)
    to_picture = np.tile(np.eye(2, 3), (len(track.time_s), 1, 1))
    to_picture[track.time_s > way.middle_s - 0.5, 0, 2] = 60.0
    slipped = replace(_set(), track=replace(track, to_picture=to_picture, placed=track.time_s > 0))
    path, ticks = _path(_set(), way, 0.5, way.middle_s)
    seen, seen_ticks = _path(slipped, way, 0.5, way.middle_s)
    np.testing.assert_allclose(seen, path + np.array([30.0, 0.0]), atol=1e-6)
    np.testing.assert_allclose(seen_ticks, ticks + np.array([30.0, 0.0]), atol=1e-6)


def test_both_paths_are_drawn_apart_and_one_of_them_alone_where_nothing_is_to_be_compared() -> None:
    one = timed(_set(), _found("dropped-load"))
    assert one is not None
    width, height = _set().clip.width, _set().clip.height
    grey = np.full((height, width, 3), 90, np.uint8)

    def count(other: Stretch | None, colour: tuple[int, int, int]) -> int:
        return int((path_picture(grey, _set(), one, other) == np.array(colour)).all(axis=2).sum())

    assert count(None, MARKED) > 100
    assert count(like(_set(), one), TEXT) > count(None, TEXT) + 100
