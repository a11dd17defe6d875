"""How a single-view angle depends on where the camera stands: plane geometry, and real footage.

Held: our limit of the view, and angles read in real footage; against geometry and calibrated cameras.

Pure projection: a planar joint turned about the vertical, by arithmetic. Real footage: four calibrated
views inside the wheel of pose2sim 0.10.49 (BSD-3), see ``single_view`` for how it is measured. Mean
absolute error in degrees against the joint triangulated from all four views (n readings), and from the
three other views, measured with the full landmark model:

| degrees off the joint's normal | n | error | projection alone | n | error, view left out |
|---|---|---|---|---|---|
| 0 to 30 | 35 | 3.6 | 1.5 | 61 | 9.4 |
| 30 to 45 | 54 | 5.3 | 4.5 | 63 | 10.3 |
| 45 to 60 | 169 | 10.5 | 10.7 | 223 | 21.0 |
| 60 to 75 | 205 | 21.9 | 22.2 | 287 | 26.6 |
| 75 to 90 | 145 | 32.9 | 34.9 | 209 | 35.2 |

One man, one movement of 1.7 s: readings of neighbouring frames are hardly independent.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.outside.single_view import Row, look, readings, table
from vision.common.geometry import included_angle
from vision.measuring.signals.signal import MAX_OFF_VIEW_DEG


def _seen(first_deg: float, second_deg: float, yaw_deg: float) -> float:
    """Picture angle between two segments of a side view, given from the vertical, at a camera yaw."""
    tilts = np.radians([first_deg, second_deg])
    ends = np.stack([np.sin(tilts), np.cos(tilts), np.zeros(2)], axis=-1)
    turned = Rotation.from_rotvec([0.0, yaw_deg, 0.0], degrees=True).apply(ends)[:, :2]
    return float(included_angle(turned[0], np.zeros(2), turned[1]))


def test_within_the_views_we_judge_projection_alone_stays_under_nine_degrees():
    worst = max(
        abs(_seen(a, b, MAX_OFF_VIEW_DEG) - (b - a))
        for a in range(-90, 91, 5)
        for b in range(a + 5, min(a + 176, 91), 5)
    )
    assert worst < 9.0


@pytest.fixture(scope="module")
def measured() -> dict[bool, list[Row]]:
    """The table with the judged view in the reference (False) and left out of it (True)."""
    views, pixels = look()
    return {left_out: table(readings(views, pixels, left_out)) for left_out in (False, True)}


@pytest.mark.long
@pytest.mark.parametrize("left_out", [False, True])
def test_the_error_grows_with_obliquity(measured, left_out):
    rows = measured[left_out]
    assert all(r.n >= 25 and r.turns >= 4 for r in rows)
    errors = [r.error for r in rows]
    assert errors == sorted(errors)
    assert errors[-1] > 3.0 * errors[0]


@pytest.mark.long
@pytest.mark.parametrize(("left_out", "most"), [(False, 6.0), (True, 13.0)])
def test_a_view_within_thirty_degrees_of_the_normal_reads_the_angle(measured, left_out, most):
    assert measured[left_out][0].error < most


@pytest.mark.long
@pytest.mark.parametrize("left_out", [False, True])
def test_beyond_sixty_degrees_no_angle_can_be_judged(measured, left_out):
    assert all(r.error > 15.0 for r in measured[left_out][3:])


@pytest.mark.long
def test_beyond_thirty_degrees_the_error_is_projection_not_landmarks(measured):
    for row in measured[False][1:]:
        assert row.projection == pytest.approx(row.error, abs=4.0)
