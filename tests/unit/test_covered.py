"""A limb that somebody stands before is guessed, so the set is refused."""

from __future__ import annotations

import numpy as np
import pytest

from tests.people import landmarks, seated
from tests.stick_sets import judge_landmarks, knee_motion

KNEE = knee_motion(reps=8)


def problems(trunk: float, share: float = 1.0, at: tuple[float, float] = (330.0, 600.0)) -> list[str]:
    """Codes against eight leg extensions, 200 px a trunk, while somebody is there for a share of the clip."""
    other = seated(np.full(len(KNEE), 95.0), at=at, trunk=trunk)
    other[int(share * len(other)) :] = np.nan
    report = judge_landmarks(landmarks(seated(KNEE), other), "leg-extension").report
    return [problem.code for problem in report.quality.problems]


def test_a_set_behind_somebody_nearer_to_the_phone_is_refused() -> None:
    assert problems(trunk=300.0) == ["limb-covered"]


def test_somebody_behind_the_lifter_covers_nothing() -> None:
    assert problems(trunk=180.0, at=(340.0, 640.0)) == []


def test_somebody_beside_the_lifter_covers_nothing() -> None:
    assert problems(trunk=300.0, at=(330.0, 1250.0)) == []


@pytest.mark.parametrize(("share", "expected"), [(0.3, []), (0.8, ["limb-covered"])])
def test_somebody_who_stands_there_for_a_while_only_does_not_cost_the_set(
    share: float, expected: list[str]
) -> None:
    assert problems(trunk=300.0, share=share) == expected
