"""Printed tags: what their numbers stand for, that they are found and followed, what lever and board give."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import cv2
import numpy as np
import pytest

from sample_clips.tagged import board_paper, paper
from shared.exercise import exercise_names, find_exercise, tagged_exercise
from shared.tags import (
    BOARD_COLUMNS,
    BOARD_ROWS,
    MACHINES,
    PER_MACHINE,
    SIDE_CM,
    SQUARE_CM,
    TAG_PLACES,
    black_cells,
    board_ids,
    tag_id,
    tag_meaning,
)
from tests.drawn import DrawnClip
from vision.measuring.machine.board import board_points, find_board
from vision.measuring.machine.lever import find_lever
from vision.seeing.tag_finder import Finder
from vision.seeing.tag_tracker import seen_machines, seen_tags, track_tags
from vision.seeing.tags import TagPath, tag_point

DICTIONARY = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)
MACHINE = 4
STACK = tag_id(MACHINE, "stack")
PICTURE = (1920, 1080)
Camera = Callable[[np.ndarray], np.ndarray]


def test_the_markers_are_those_that_are_looked_for():
    for marker in range(MACHINES * PER_MACHINE):
        drawn = np.ones((6, 6), np.uint8)
        drawn[tuple(np.array(black_cells(marker)).T)] = 0
        assert (drawn == DICTIONARY.generateImageMarker(marker, 6) // 255).all()


def test_the_board_is_one_that_opencv_knows():
    board = cv2.aruco.CharucoBoard(
        (BOARD_COLUMNS, BOARD_ROWS), SQUARE_CM, SIDE_CM["board"], DICTIONARY, np.array(board_ids(MACHINE))
    )
    middle = np.array([BOARD_COLUMNS, BOARD_ROWS, 0]) * SQUARE_CM / 2
    assert board_points() == pytest.approx(np.concatenate(board.getObjPoints()) - middle, abs=1e-4)
    found = Finder().anywhere(np.pad(board_paper(MACHINE), 40, constant_values=205))
    assert sorted(found) == board_ids(MACHINE)


def test_a_marker_says_machine_and_place():
    for marker in range(MACHINES * PER_MACHINE):
        machine, place, index = tag_meaning(marker)
        assert 1 <= machine <= MACHINES and place in TAG_PLACES
        assert tag_id(machine, place, index) == marker


def test_every_machine_that_ships_has_tags_of_its_own():
    numbers = [find_exercise(name).tag_number for name in exercise_names()]
    assert None not in numbers and len(set(numbers)) == len(numbers)
    for name, number in zip(exercise_names(), numbers, strict=True):
        assert tagged_exercise(number or 0) == find_exercise(name)
    assert tagged_exercise(MACHINES) is None


def tagged_clip(**changes: object) -> DrawnClip:
    """A drawn clip whose plate is the stack's tag, 36 px a side."""
    return DrawnClip(seconds=4.0, plate=small_paper(), **changes)  # type: ignore[arg-type]


def small_paper() -> np.ndarray:
    return cv2.resize(paper(STACK), (48, 48), interpolation=cv2.INTER_AREA)


def follow(source: DrawnClip) -> TagPath:
    path = track_tags(source, MACHINE, seen_tags(source))["stack"]
    assert isinstance(path, TagPath)
    return path


@cache
def hidden_for_a_second() -> TagPath:
    return follow(tagged_clip(covered=lambda t: 1.5 <= t < 2.5))


def test_a_tag_is_followed_to_half_a_pixel_and_its_size_known():
    source = tagged_clip()
    path = follow(source)
    true = np.array([source.place(t) for t in path.time_s])
    assert path.seen.mean() > 0.98
    assert np.nanmax(np.linalg.norm(path.xy_px - true, axis=1)) < 0.6
    assert path.cm_per_px == pytest.approx(6.0 / (48 * 72 / 96), rel=0.03)


def test_a_hidden_tag_is_lost_and_found_again():
    path = hidden_for_a_second()
    hidden = (path.time_s >= 1.95) & (path.time_s < 2.5)
    assert not path.seen[hidden].any() and path.seen[path.time_s > 2.8].all()
    ((start, end),) = path.lost_spans()
    assert 1.4 < start < 2.0 and end == pytest.approx(2.5, abs=0.3)


class Smeared(DrawnClip):
    """A tag that nobody can read from the second second on, though its outline is still there."""

    def _picture(self, t: float) -> np.ndarray:
        self.plate = small_paper()
        if t >= 2.0:
            self.plate[8:40, 8:40] = 28
        return super()._picture(t)


def test_a_tag_that_cannot_be_read_is_not_carried_on_for_long():
    path = follow(Smeared(seconds=4.0))
    assert path.seen[path.time_s < 2.0].all()
    assert path.seen[path.time_s < 2.2].all(), "flow carries it for a moment"
    assert not path.seen[path.time_s > 2.6].any()


def test_a_clip_without_tags_shows_none_and_another_machine_s_tags_give_no_paths():
    assert seen_tags(DrawnClip(seconds=3.0)) == set()
    markers = seen_tags(tagged_clip())
    assert markers == {STACK} and seen_machines(markers) == [MACHINE]
    assert track_tags(tagged_clip(), MACHINE + 1, markers) == {}


def test_a_tag_with_a_misread_cell_is_looked_for_closely_where_the_machine_is_told():
    misread = paper(STACK)
    edge = (len(misread) - 6 * 12) // 2
    row, column = next((r, c) for r, c in black_cells(STACK) if 1 <= r <= 4 and 1 <= c <= 4)
    misread[edge + 12 * row :, edge + 12 * column :][:12, :12] = 205
    small = cv2.resize(misread, (48, 48), interpolation=cv2.INTER_AREA)
    source = DrawnClip(seconds=4.0, plate=small)
    assert seen_tags(source) == set(), "alone it is too unlike a tag to be one"
    paths = track_tags(source, MACHINE, {tag_id(MACHINE, "lever")})
    assert set(paths) == {"stack"} and paths["stack"].seen.mean() > 0.9
    assert track_tags(DrawnClip(seconds=4.0), MACHINE, {tag_id(MACHINE, "lever")}) == {}


def test_one_glimpse_is_not_enough():
    assert seen_tags(tagged_clip(gone=lambda t: t >= 0.1)) == set()


def camera(turn_deg: float, down_deg: float, focal: float, far_cm: float, aside_deg: float) -> Camera:
    """Pixels (N, 2) of points (N, 3) cm about the board, x right, y down, z away; aside: off the middle."""
    turn, down, aside = np.radians([turn_deg, down_deg, aside_deg])
    ahead = np.array([-np.sin(turn) * np.cos(down), np.sin(down), np.cos(turn) * np.cos(down)])
    right = np.cross([0.0, 1.0, 0.0], ahead)
    turned = np.stack([right / np.linalg.norm(right), np.cross(ahead, right / np.linalg.norm(right)), ahead])
    middle = far_cm * np.array([np.sin(aside), 0.0, np.cos(aside)])

    def project(points: np.ndarray) -> np.ndarray:
        seen = points @ turned.T + middle
        return np.asarray(focal * seen[:, :2] / seen[:, 2:] + (np.array(PICTURE) - 1) / 2)

    return project


def board_path(corners: np.ndarray, noise_px: float, frames: int = 90) -> TagPath:
    rng = np.random.default_rng(3)
    seen = corners[None] + rng.normal(0, noise_px, (frames, *corners.shape))
    middle = seen.mean(axis=1)
    times = np.arange(frames) / 30
    return TagPath(
        tag_point("board", middle[0], 0.0), times, middle, middle, np.ones(frames), corners_px=seen
    )


@pytest.mark.parametrize("turn_deg", [-25.0, -8.0, 12.0, 25.0])
@pytest.mark.parametrize("lens_px", [1300.0, 1507.0, 2058.0])
def test_the_board_tells_the_camera_s_turn_whatever_the_lens(turn_deg: float, lens_px: float):
    project = camera(turn_deg, 8.0, focal=lens_px, far_cm=280.0, aside_deg=10.0)
    board = find_board(board_path(project(board_points()), 0.4), PICTURE)
    assert not board.why
    assert (
        board.turn_deg == pytest.approx(turn_deg, abs=2.0) and abs(board.turn_deg - turn_deg) < board.half_deg
    )
    assert board.down_deg == pytest.approx(8.0, abs=2.0)
    assert board.distance_cm[0] <= 280.0 <= board.distance_cm[1]


def test_a_board_straight_before_the_lens_is_told():
    project = camera(0.0, 0.0, focal=1300.0, far_cm=373.0, aside_deg=0.0)
    board = find_board(board_path(project(board_points()), 0.0), PICTURE)
    assert (board.turn_deg, board.down_deg) == pytest.approx((0.0, 0.0), abs=0.5)


@pytest.mark.parametrize("inward_px", [0.1, 0.7])
def test_corners_that_blur_draws_inward_leave_the_turn_alone(inward_px: float):
    project = camera(5.0, 4.0, focal=1507.0, far_cm=330.0, aside_deg=10.0)
    corners = project(board_points()).reshape(-1, 4, 2)
    drawn = corners - inward_px * np.sign(corners - corners.mean(axis=1, keepdims=True))
    plain, blurred = (find_board(board_path(c.reshape(-1, 2), 0.1), PICTURE) for c in (corners, drawn))
    assert blurred.turn_deg == pytest.approx(plain.turn_deg, abs=0.2)
    assert blurred.turn_deg == pytest.approx(5.0, abs=2.0)


def test_a_board_that_is_hardly_seen_says_why_and_nothing_else():
    corners = camera(10.0, 0.0, focal=1500.0, far_cm=280.0, aside_deg=0.0)(board_points())
    corners[8:] = np.nan
    board = find_board(board_path(corners, 0.2), PICTURE)
    assert "too few" in board.why and np.isnan(board.turn_deg)


def test_two_places_that_fit_alike_cannot_be_told_apart():
    from_afar = camera(20.0, 0.0, focal=1500.0, far_cm=1500.0, aside_deg=0.0)
    assert "alike" in find_board(board_path(from_afar(board_points()), 0.3), PICTURE).why


def lever_path(
    angles: np.ndarray, noise_px: float = 0.3, turn_deg: float = 25.0
) -> tuple[TagPath, np.ndarray]:
    """A tag of 5 cm on a lever 20 cm from its axis, and the axis in the picture (2,)."""
    project = camera(turn_deg, 5.0, focal=1500.0, far_cm=270.0, aside_deg=6.0)
    rng = np.random.default_rng(5)
    square = np.array([[-2.5, -2.5], [2.5, -2.5], [2.5, 2.5], [-2.5, 2.5]])
    square = square + np.array([0.0, 20.0])
    frames = []
    for angle in np.radians(angles):
        spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        frames.append(project(np.pad(square @ spin.T, ((0, 0), (0, 1)))))
    corners = np.array(frames) + rng.normal(0, noise_px, (len(angles), 4, 2))
    times, middle = np.arange(len(angles)) / 30, corners.mean(axis=1)
    path = TagPath(
        tag_point("lever", middle[0], 0.0), times, middle, middle, np.ones(len(times)), corners_px=corners
    )
    return path, project(np.zeros((1, 3)))[0]


@pytest.mark.parametrize("turn_deg", [0.0, 15.0, 25.0])
def test_the_lever_s_angle_and_axis_need_no_lens(turn_deg: float):
    angles = -35 * (1 - np.cos(np.arange(300) / 30)) + 20
    path, axis = lever_path(angles, turn_deg=turn_deg)
    lever = find_lever(path, None)
    assert lever is not None
    off = lever.angle_deg - (angles - angles[0])
    assert np.abs(off - np.median(off)).max() < 1.3
    assert np.ptp(np.sort(lever.angle_deg)[5:-5]) == pytest.approx(np.ptp(np.sort(angles)[5:-5]), abs=1.5)
    px_per_cm = 1500.0 / 270.0
    assert np.linalg.norm(lever.axis_px - axis) < 1.0 * px_per_cm


def test_a_lever_that_hardly_turns_tells_no_axis():
    lever = find_lever(lever_path(np.linspace(0, 10, 60))[0], None)
    assert lever is not None and np.isnan(lever.axis_px).all()
