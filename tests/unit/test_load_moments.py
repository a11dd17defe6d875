"""A tagged load's start and end by its own height, and the truth of clips with drawn tags."""

from __future__ import annotations

import numpy as np
import pytest

from sample_clips.tagged_truth import LIES_S, landings, moments, with_landings
from shared.domain import Floats
from tests.unit.test_load import a_set, path_of, track_of
from tests.unit.test_tags_measured import tagged
from vision.measuring.machine.load import find_load
from vision.measuring.machine.load_moments import FURTHEST_S, by_height

#: The load lies, leaves and comes back at once at 30 cm/s.
TRUE = (1.0, 2.0, 2.4, 3.4)
EVERY = np.arange(0.0, 5.0, 1 / 30)


def dead_stops(low_cm: float = 2.0, noise_cm: float = 0.0) -> Floats:
    height = np.interp(EVERY, TRUE, [low_cm, 32.0, 32.0, low_cm])
    return np.asarray(height + np.random.default_rng(3).normal(0, noise_cm, len(EVERY)))


@pytest.mark.parametrize("noise_cm", [0.0, 0.15])
@pytest.mark.parametrize("off_s", [-0.09, 0.0, 0.05])
def test_start_and_end_are_when_the_load_leaves_and_comes_back(off_s: float, noise_cm: float) -> None:
    told = (TRUE[0] + off_s, TRUE[1], TRUE[2], TRUE[3] - off_s)
    (found,) = by_height(EVERY, dead_stops(noise_cm=noise_cm))([told], EVERY, EVERY)
    assert found == pytest.approx(TRUE, abs=0.03)
    assert found[1:3] == told[1:3], "the lift end is told well enough"


def test_where_the_tag_was_lost_the_moment_stays_as_it_was() -> None:
    height = dead_stops()
    height[(EVERY > 0.5) & (EVERY < 1.6)] = np.nan
    told = (0.93, 2.0, 2.4, 3.47)
    (found,) = by_height(EVERY, height)([told], EVERY, EVERY)
    assert abs(found[0] - told[0]) <= FURTHEST_S and found[3] == pytest.approx(TRUE[3], abs=0.03)


def test_a_tag_s_moments_are_those_of_its_height_and_a_mark_s_stay_filtered() -> None:
    truth = a_set()
    seconds = np.arange(0.0, truth.duration_s, 1 / 30)
    starts = [2.0 + 3.5 * k for k in range(5)]
    knots = [
        (start + at, cm) for start in starts for at, cm in zip(TRUE, (2.0, 32.0, 32.0, 2.0), strict=True)
    ]
    path = path_of(np.interp(seconds, *zip(*knots, strict=True)))
    by_tag, by_mark = (find_load(p, track_of(truth), None).reps for p in (tagged(path), path))
    assert by_tag is not None and by_mark is not None
    off = [
        [
            max(abs(r.start_s - s - TRUE[0]), abs(r.end_s - s - TRUE[3]))
            for r, s in zip(reps, starts, strict=True)
        ]
        for reps in (by_tag.reps, by_mark.reps)
    ]
    assert max(off[0]) < 0.04 < max(off[1])


def rows(*bounds: tuple[float, float, float, float]) -> list[dict[str, float]]:
    keys = ("start_s", "turn_s", "lower_start_s", "end_s")
    return [{"number": n, **dict(zip(keys, b, strict=True))} for n, b in enumerate(bounds, 1)]


def test_landings_are_a_touch_a_rest_and_nothing_else() -> None:
    reps = rows(*((4.0 * k + 1, 4.0 * k + 2, 4.0 * k + 2.4, 4.0 * k + 3.6) for k in range(5)))
    time_s = np.arange(0.0, 21.0, 0.002)
    knots = sorted(
        {
            (row[k], v)
            for row in reps
            for k, v in zip(("start_s", "turn_s", "lower_start_s", "end_s"), (2, 32, 32, 2), strict=True)
        }
    )
    height = np.interp(time_s, *zip(*knots, strict=True))
    assert landings(time_s, height, reps) == []
    spans = landings(time_s, with_landings(time_s, height, reps), reps)
    assert [b - a < 0.3 for a, b in spans] == [True, False, True]
    assert LIES_S < spans[1][1] - spans[1][0] < 1.6 * LIES_S
    assert moments(time_s, height, reps)[1] == pytest.approx([5.0, 6.0, 6.4, 7.6], abs=0.01)
