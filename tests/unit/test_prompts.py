"""What a member reads: only for flags, with the number, its uncertainty and the last word."""

from __future__ import annotations

import pytest

from shared.domain import Unit, Verdict
from shared.exercise import exercise_names, find_exercise
from vision.common.prompts import (
    CAUTIONS,
    LAST_WORD,
    Bound,
    give_or_take,
    limit_words,
    member_prompt,
    quantity,
)

SPEC = find_exercise("leg-extension").check("knee-lockout")


def test_a_flag_tells_the_cue_the_number_and_who_decides() -> None:
    assert member_prompt(SPEC, "flag", 179.6, 4.2, 172.0) == (
        "Stop just short of straight (180 degrees): your knee reached 180 degrees (give or take 4). "
        + LAST_WORD
    )


@pytest.mark.parametrize("verdict", ["watch", "clear", "cannot-tell"])
def test_only_flags_reach_the_member(verdict: Verdict) -> None:
    assert member_prompt(SPEC, verdict, 179.6, 4.2, 172.0) is None


def test_no_wording_no_prompt() -> None:
    assert member_prompt(find_exercise("chest-fly").check("rep-target"), "flag", 17, 0.0, (12, 15)) is None


@pytest.mark.parametrize("name", exercise_names())
def test_every_prompt_is_filled_and_speaks_to_the_member(name: str) -> None:
    for spec in find_exercise(name).checks:
        if spec.prompt is None:
            continue
        said = member_prompt(spec, "flag", 0.51, 0.1, spec.limit.resolved(in_cm=True))
        assert said is not None and "{" not in said and "give or take" in said and said.endswith(LAST_WORD)
        assert " you" in said and len(said) < 170, said


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
        "lower the load if you can, and tell the trainer",
        "Chest pain or fainting: call emergency help",
        "Tired muscles are expected, pain is not",
        "limits your clinician or trainer gave you",
        "no medical advice; the trainer, licensed clinicians and local rules come first",
    ],
)
def test_the_standing_cautions_say(said: str) -> None:
    assert said in " ".join(CAUTIONS)
