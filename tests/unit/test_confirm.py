"""A flag stands when a second look at the mirrored pictures does not clear it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.exercise import find_exercise
from tests.people import CLIP, landmarks, seated
from tests.stick_sets import knee_motion
from vision.analysis import Analysis, Options
from vision.confirm import LOOKED_AGAIN, NOT_CONFIRMED
from vision.filters import runs
from vision.look import Seen
from vision.pipeline import judge_twice

KNEE = knee_motion(reps=12)
LIFTED = runs(KNEE > 130.0)
UPRIGHT, DROPPED = -8.0, 14.0


def people(dropped: tuple[int, ...] = ()) -> Landmarks:
    """A set of leg extensions; the chest drops in the repetitions named (from 1) while the load is up."""
    lean = np.full(len(KNEE), UPRIGHT)
    for n in dropped:
        lean[slice(*LIFTED[n - 1])] = DROPPED
    poses = [seated(KNEE[i : i + 1], pitch_deg=float(pitch)) for i, pitch in enumerate(lean)]
    return landmarks(np.concatenate(poses))


def judged(first: Landmarks, second: Landmarks | None) -> Analysis:
    clip = replace(CLIP, duration_s=float(first.time_s[-1]), frames=len(first.frame))
    seen = Seen(clip, 120.0, 0.2, first, first, "stick")

    def again() -> Landmarks:
        if second is None:
            pytest.fail("looked again without a flag to confirm")
        return second

    return judge_twice(seen, find_exercise("leg-extension"), Options(raw=True), again)


def verdicts(analysis: Analysis, check: str = "chest-drop") -> dict[int, str]:
    return {f.rep: f.verdict for f in analysis.report.findings if f.check == check and f.verdict != "clear"}


def test_what_both_looks_show_is_a_flag():
    found = judged(people((5, 7)), people((5, 7)))
    assert verdicts(found) == {5: "flag", 7: "flag"}


def test_what_the_second_look_clears_is_put_on_watch_without_a_prompt():
    found = judged(people((5, 7)), people((7,)))
    assert verdicts(found) == {5: "watch", 7: "flag"}
    doubted = next(f for f in found.report.findings if f.check == "chest-drop" and f.rep == 5)
    assert (doubted.prompt, doubted.reason) == (None, NOT_CONFIRMED)
    assert doubted.measured == pytest.approx(DROPPED - UPRIGHT, abs=2.0)
    assert found.report.steps[-1] == LOOKED_AGAIN


def test_what_only_the_second_look_shows_is_not_raised():
    assert verdicts(judged(people((7,)), people((5, 7)))) == {7: "flag"}


def test_a_set_without_flags_is_looked_at_once():
    assert verdicts(judged(people(), None)) == {}


def test_a_second_look_that_cannot_judge_clears_nothing():
    nobody = replace(people(), image_px=np.full_like(people().image_px, np.nan))
    assert verdicts(judged(people((5,)), nobody)) == {5: "flag"}


def test_repetitions_are_matched_by_time_where_the_second_look_counts_otherwise():
    """The second look misses the first repetition: its sixth is our seventh."""
    second = people((7,))
    second.image_px[: LIFTED[0][1] + 10] = np.nan
    assert verdicts(judged(people((5, 7)), second)) == {5: "watch", 7: "flag"}
