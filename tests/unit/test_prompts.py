"""What a member reads, only of flags; numbers, limits and uncertainties in words; the standing cautions."""

from __future__ import annotations

import pytest

from shared.domain import Unit, Verdict
from shared.exercise import find_exercise
from vision.common.cautions import CAUTIONS
from vision.common.prompts import member_prompt
from vision.common.quantities import Bound, give_or_take, limit_words, listed, quantity

SPEC = find_exercise("leg-extension").check("knee-lockout")


def test_a_flag_tells_the_cue_and_a_number_that_helps() -> None:
    assert member_prompt(SPEC, "flag", 179.6, 4.2) == "Stop just short of locking your knees."
    fast = find_exercise("leg-extension").check("too-fast")
    assert member_prompt(fast, "flag", 0.61, 0.1) == (
        "Slow down: give yourself a full second each way. Your quicker half took 0.6 seconds."
    )
    assert "0.97 seconds" in str(member_prompt(fast, "flag", 0.97, 0.02))


@pytest.mark.parametrize("verdict", ["watch", "clear", "cannot-tell"])
def test_only_flags_reach_the_member(verdict: Verdict) -> None:
    assert member_prompt(SPEC, verdict, 179.6, 4.2) is None


def test_no_wording_no_prompt() -> None:
    assert member_prompt(find_exercise("chest-fly").check("rep-target"), "flag", 17, 0.0) is None


@pytest.mark.parametrize(
    ("value", "unit", "words"),
    [
        (171.6, "deg", "172 degrees"),
        (1.2, "deg", "1 degree"),
        (-0.4, "deg", "0 degrees"),
        (0.84, "s", "0.8 seconds"),
        (3.25, "cm", "3.2 cm"),
        (0.047, "trunk_fraction", "0.05 of the trunk's length"),
        (0.45, "ratio", "45 %"),
        (1.0, "reps", "1 repetition"),
        (22.4, "%", "22 %"),
    ],
)
def test_numbers_read_as_people_write_them(value: float, unit: Unit, words: str) -> None:
    assert quantity(value, unit) == words


def test_a_value_beyond_a_limit_never_reads_like_the_limit() -> None:
    assert quantity(10.3, "deg", against=10.0) == "10.3 degrees"
    assert quantity(0.97, "s", against=1.0) == "0.97 seconds"
    assert quantity(10.0, "deg", against=10.0) == "10 degrees"
    assert quantity(12.4, "deg", against=(None, 10.0)) == "12 degrees"


def test_an_uncertainty_never_reads_as_none() -> None:
    assert give_or_take(0.3, "deg") == "give or take less than 1"
    assert give_or_take(0.02, "s") == "give or take less than 0.1"
    assert give_or_take(0.12, "ratio") == "give or take 12"


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        ((12, 15), "12 to 15 repetitions"),
        ((None, 15.0), "15 repetitions"),
        (12, "12 repetitions"),
        (None, "no limit"),
    ],
)
def test_limits_in_words(limit: Bound, words: str) -> None:
    assert limit_words(limit, "reps") == words


@pytest.mark.parametrize(
    "said",
    [
        "sharp or joint pain, chest pain or pressure, dizziness, numbness or unusual breathlessness",
        "set the weight down if you safely can, and tell the trainer",
        "Chest pain or pressure, or fainting: call for emergency help",
        "Tired or burning muscles are normal. Sharp or joint pain is not",
        "fingers and hair clear of the stack; phone out of walkways",
        "limits your clinician or trainer gave you",
        "not medical advice. Your trainer, licensed clinicians and local rules come first",
    ],
)
def test_the_standing_cautions_say(said: str) -> None:
    assert said in " ".join(CAUTIONS)


@pytest.mark.parametrize(
    ("words", "told"),
    [([], ""), (["wrist"], "wrist"), (["hip", "knee"], "hip and knee"), (["a", "b", "c"], "a, b and c")],
)
def test_words_are_listed_as_one_says_them(words: list[str], told: str) -> None:
    assert listed(words) == told
