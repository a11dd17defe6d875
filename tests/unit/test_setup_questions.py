"""What is asked of seat, pad and lever: of the whole set, of half of it, of its first and last repetition."""

from __future__ import annotations

import pytest

from shared.exercise import find_exercise
from shared.report import FindingPart, SetReport
from tests.unit.handmade import analysis
from vision.telling.setup_questions import setup_questions

PRESS = find_exercise("chest-press")


def report(check: str, verdict: str, *reps: int | None) -> SetReport:
    made = analysis(exercise=find_exercise("leg-extension")).report
    found = [
        FindingPart(
            check=check, rep=rep, time_s=1.0, frame=30, verdict=verdict, measured=1.0, uncertainty=1.0,
            limit=(None, 1.0), unit="cm", prompt=None, reason=None,
        )  # type: ignore[arg-type]
        for rep in reps
    ]  # fmt: skip
    return made.model_copy(update={"findings": found})


NUMBERS = [rep.number for rep in report("press-height", "flag").reps]


@pytest.mark.parametrize(
    ("check", "verdict", "reps", "begins"),
    [
        ("hips-off-pad", "watch", [None], "Back pad:"),
        ("hips-off-pad", "clear", [None], None),
        ("press-height", "flag", NUMBERS[: len(NUMBERS) // 2 + 1], "Seat:"),
        ("press-height", "flag", NUMBERS[:1], None),
        ("stack-rest", "watch", NUMBERS[:-1], "Start position:"),
        ("hands-behind", "flag", NUMBERS[:1], "Start position:"),
        ("hands-behind", "flag", NUMBERS[-1:], "Start position:"),
        ("hands-behind", "flag", NUMBERS[3:4], None),
        ("chest-drop", "flag", NUMBERS, None),
    ],
)
def test_a_question_is_asked_where_the_setup_may_be_why(check, verdict, reps, begins) -> None:
    said = setup_questions(report(check, verdict, *reps), PRESS)
    assert [words.split(":")[0] + ":" for words in said] == ([begins] if begins else [])
    assert all(words.endswith("?") for words in said)


def test_every_question_of_the_catalogue_is_a_question() -> None:
    asked = [
        s.asks for name in ("leg-extension", "chest-press", "chest-fly") for s in find_exercise(name).checks
    ]
    assert len([a for a in asked if a]) >= 6
    assert all(a.endswith("?") for a in asked if a)
