"""A repetition near the line between full and short is named, and no other."""

from __future__ import annotations

import numpy as np
import pytest

from tests.stick_sets import RATE, judged
from tests.synthetic import RepTruth, SetTruth


def notes(*shares: float) -> list[str]:
    """What is said of the count of a set whose repetitions go so much of the usual way."""
    truth = SetTruth(tuple(RepTruth(share=share) for share in shares), low=95.0, range=65.0)
    analysis = judged(truth.drive(np.arange(0.0, truth.duration_s, 1.0 / RATE)))
    return [note for note in analysis.report.quality.notes if "between a full and a short" in note]


@pytest.mark.parametrize("share", [0.69, 0.71])
def test_a_repetition_near_the_line_is_named_on_either_side(share: float) -> None:
    (said,) = notes(1.0, 1.0, share, 1.0, 1.0)
    assert said.startswith("Repetition 3 came close to the line")


def test_two_are_named_together() -> None:
    (said,) = notes(1.0, 0.71, 1.0, 0.69, 1.0, 1.0)
    assert said.startswith("Repetitions 2 and 4 came close")


@pytest.mark.parametrize("share", [1.0, 0.85, 0.5])
def test_who_is_clearly_on_one_side_is_not_asked_about(share: float) -> None:
    assert notes(1.0, 1.0, share, 1.0, 1.0) == []
