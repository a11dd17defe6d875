"""A place through the frame board's pose there and back, by whatever phone from wherever it stands."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.test_tags import PICTURE, board_path, camera
from vision.measuring.machine.board import board_points, find_board
from vision.measuring.machine.places import place_marks
from vision.measuring.machine.sight_lines import line_of_sight, meet, seen_at

phones = st.builds(
    camera,
    turn_deg=st.floats(-25.0, 25.0),
    down_deg=st.floats(-10.0, 12.0),
    focal=st.floats(1300.0, 2000.0),
    far_cm=st.floats(220.0, 380.0),
    aside_deg=st.floats(-15.0, 15.0),
)
places = st.tuples(st.floats(-90.0, 90.0), st.floats(-60.0, 90.0), st.floats(-15.0, 15.0)).map(np.array)


@settings(max_examples=40, deadline=None)
@given(phone=phones, point=places)
def test_a_place_comes_back_to_its_pixel_in_the_picture_in_which_it_was_marked(phone, point):
    poses = find_board(board_path(phone(board_points()), 0.0), PICTURE).poses
    xy = phone(point[None])[0]
    back, half_cm = seen_at(meet([line_of_sight("pivot", xy, poses)]), poses)
    assert np.linalg.norm(back - xy) < 1.0
    assert half_cm >= 0.7, "no surer than who pointed at it"


@settings(max_examples=40, deadline=None)
@given(there=phones, here=phones, point=places)
def test_a_mark_by_another_phone_lies_within_what_is_said_or_is_not_told(there, here, point):
    tags = [board_path(phone(board_points()), 0.05) for phone in (there, here)]
    boards = [find_board(tag, PICTURE) for tag in tags]
    sight = line_of_sight("pivot", there(point[None])[0], boards[0].poses)
    placed = place_marks([sight], {"board": tags[1]}, boards[1])
    for path in placed.marks.values():
        cm_per_px = 380.0 / 1300.0  # at most
        off = np.linalg.norm(np.median(path.steady_px, axis=0) - here(point[None])[0])
        assert off * cm_per_px < 2.5 * path.half_cm
    assert set(placed.marks) | set(placed.too_unsure) == {"pivot"}
