"""A limb that somebody stands before is guessed, so the set is refused."""

from __future__ import annotations

import numpy as np
import pytest

from shared.report import SetReport
from tests.people import landmarks, seated
from tests.stick_sets import judge_landmarks, knee_motion

KNEE = knee_motion(reps=8)
TIME_S = np.arange(len(KNEE)) / 30.0


def report_of(
    trunk: float, there: np.ndarray | bool = True, at: tuple[float, float] = (330.0, 600.0)
) -> SetReport:
    """Of eight leg extensions, 200 px a trunk, while somebody is ``there`` (T,) beside the other."""
    other = seated(np.full(len(KNEE), 95.0), at=at, trunk=trunk)
    other[~np.broadcast_to(there, len(other))] = np.nan
    return judge_landmarks(landmarks(seated(KNEE), other), "leg-extension").report


def problems(
    trunk: float, there: np.ndarray | bool = True, at: tuple[float, float] = (330.0, 600.0)
) -> list[str]:
    """The codes of its problems."""
    return [problem.code for problem in report_of(trunk, there, at).quality.problems]


def test_a_set_behind_somebody_nearer_to_the_phone_is_refused_and_nothing_of_it_listed() -> None:
    assert problems(trunk=300.0) == ["limb-covered"]
    assert report_of(trunk=300.0).unjudged is None


@pytest.mark.parametrize("trunk", [180.0, 230.0])
def test_somebody_behind_the_lifter_covers_nothing(trunk: float) -> None:
    assert problems(trunk, at=(340.0, 640.0)) == []


def test_somebody_beside_the_lifter_covers_nothing() -> None:
    assert problems(trunk=300.0, at=(330.0, 1250.0)) == []


@pytest.mark.parametrize(("share", "expected"), [(0.3, []), (0.8, ["limb-covered"])])
def test_somebody_who_stands_there_for_a_while_only_does_not_cost_the_set(
    share: float, expected: list[str]
) -> None:
    assert problems(trunk=300.0, there=share * TIME_S[-1] > TIME_S) == expected


def test_somebody_who_passes_again_and_again_does_not_cost_the_set() -> None:
    assert problems(trunk=300.0, there=TIME_S % 4.0 < 0.6) == []
