"""A machine that does not ship is one file: written by the recipe, counted and judged without code."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from shared.keypoints import INDEX
from tests.people import landmarks, seated
from tests.stick_sets import judge_landmarks
from tests.synthetic import RepTruth, SetTruth
from vision.measuring.learnt.data import NOT_CALIBRATED
from vision.telling.analysis import Analysis

FILE = Path(__file__).parents[1] / "data" / "triceps-press-down.toml"
TRUNK = 200.0


def pressing(shares: list[float]) -> Analysis:
    """A set whose elbows go from 80 degrees to 150 for a share of 1, upper arms hanging."""
    truth = SetTruth(tuple(RepTruth(share=s) for s in shares), low=80.0, range=70.0)
    elbow = truth.drive(np.arange(0.0, truth.duration_s, 1 / 30))
    poses = seated(np.full(len(elbow), 95.0), pitch_deg=2.0)
    bend = np.radians(180.0 - elbow)
    forearm = 0.55 * TRUNK * np.stack([np.sin(bend), np.cos(bend)], axis=-1)
    for side in ("left", "right"):
        joint = poses[:, INDEX[f"{side}_elbow"], :2]
        for part in ("wrist", "pinky", "index", "thumb"):
            poses[:, INDEX[f"{side}_{part}"], :2] = joint + forearm
    return judge_landmarks(landmarks(poses), str(FILE))


@pytest.fixture(scope="module")
def locked() -> Analysis:
    return pressing([1.0] * 4 + [1.42] + [1.0] * 7)


def test_its_repetitions_are_counted_and_a_locked_elbow_is_flagged(locked: Analysis) -> None:
    report = locked.report
    assert report.quality.usable, report.quality.problems
    assert report.count == 12
    assert {(f.check, f.rep) for f in report.flags()} == {("elbow-lockout", 5)}


def test_its_report_says_that_it_was_not_calibrated(locked: Analysis) -> None:
    assert NOT_CALIBRATED in locked.report.notices
