"""The phase rule and the time line, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.rendering.profile import Phase, build_timeline, phase_bounds
from sample_clips.rendering.specs import RepSpec


def test_cosine_phase_is_cut_where_its_speed_crosses_five_percent():
    """A half cosine has the speed sin(pi x): 5 % of the peak is reached at asin(0.05) / pi."""
    time_s = np.linspace(2.0, 4.0, 4001)
    start, end = phase_bounds(time_s, 90 + 30 * (1 - np.cos(np.pi * (time_s - 2) / 2)))
    inset = 2 * np.arcsin(0.05) / np.pi
    assert start == pytest.approx(2 + inset, abs=1e-4)
    assert end == pytest.approx(4 - inset, abs=1e-4)


def test_a_sticking_point_stays_inside_the_phase():
    phase = Phase(0.0, 2.0, 90.0, 155.0, True, sticking=0.97)
    start, end = phase.bounds()
    assert end - start > 1.8


@pytest.mark.parametrize("hard", [False, True])
def test_a_phase_runs_between_its_ends_and_only_one_way(hard):
    phase = Phase(1.0, 2.5, 155.0, 92.0, False, hard)
    drive = phase.at(np.linspace(0, 3, 500))
    assert drive[0] == 155.0
    assert drive[-1] == pytest.approx(92.0)
    assert np.all(np.diff(drive) <= 1e-9)


def test_a_hard_stop_ends_later_than_a_soft_one():
    soft, hard = (Phase(0.0, 1.0, 90.0, 180.0, True, h).bounds()[1] for h in (False, True))
    assert hard == pytest.approx(1.0, abs=0.002)
    assert soft < 0.985


def test_time_line_keeps_the_order_and_the_rest_angle():
    specs = [RepSpec(lift_end_deg=155, load_down_end_deg=92)] * 3
    line = build_timeline(specs, 2.0, 86.0, 1.5)
    assert [rep.number for rep in line.reps] == [1, 2, 3]
    assert line.drive(0.5) == 86.0
    assert line.drive(line.reps[0].lower.end_s) == pytest.approx(92.0)
    assert line.drive(line.duration_s) == pytest.approx(86.0)
