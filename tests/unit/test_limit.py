"""A limit: which way a value lies beyond it, and its number in either unit of a length."""

from __future__ import annotations

import math

import pytest
from pydantic import ValidationError

from shared.limit import Length, Limit, beyond

HAND = Length(cm=4.0, trunk_fraction=0.08)


@pytest.mark.parametrize(
    ("value", "at_least", "at_most", "over"),
    [
        (175.0, None, 172.0, 3.0), (170.0, None, 172.0, -2.0), (0.8, 1.0, None, 0.2), (1.5, 1.0, None, -0.5),
        (11.0, 12.0, 15.0, 1.0), (16.0, 12.0, 15.0, 1.0), (14.0, 12.0, 15.0, -1.0),
        (5.0, None, None, -math.inf),
    ],
)  # fmt: skip
def test_how_far_a_value_lies_beyond(value, at_least, at_most, over) -> None:
    assert beyond(value, at_least, at_most) == pytest.approx(over)


def test_a_length_has_its_number_in_either_unit() -> None:
    limit = Limit(at_most=HAND)
    assert limit.resolved(in_cm=True) == (None, 4.0) and limit.resolved(in_cm=False) == (None, 0.08)
    assert limit.is_length and not Limit(at_most=4.0).is_length


def test_a_limit_is_told_as_one_number_or_as_two() -> None:
    assert Limit(at_least=12.0).told(False) == 12.0
    assert Limit(at_least=12.0, at_most=15.0).told(False) == (12.0, 15.0)


@pytest.mark.parametrize("bound", [math.nan, math.inf, -math.inf, "high", None])
def test_a_limit_is_a_number(bound: object) -> None:
    """Beyond one that is none nothing would ever lie."""
    with pytest.raises(ValidationError):
        Limit.model_validate({"at_most": bound})
    with pytest.raises(ValidationError):
        Length.model_validate({"cm": bound, "trunk_fraction": 0.1})


@pytest.mark.parametrize(
    ("at_least", "at_most"),
    [(20.0, 15.0), (Length(cm=5.0, trunk_fraction=0.01), HAND), (Length(cm=3.0, trunk_fraction=0.2), HAND)],
)
def test_a_limit_that_nothing_can_keep_is_refused(at_least: float | Length, at_most: float | Length) -> None:
    """In either unit of a length."""
    with pytest.raises(ValidationError, match="must not be larger than at_most"):
        Limit(at_least=at_least, at_most=at_most)
