"""The first words of a set: told by the survey alone, put right by the careful look."""

from __future__ import annotations

import pytest

from app.jobs.following import MOST_LETTERS, Following
from shared.exercise import Motion
from shared.report import ProblemPart, SetReport, Spread, TempoPart
from tests.unit import handmade
from vision.telling.first_look import FirstLook, correction

DARK = ProblemPart(code="too-dark", text="The picture is too dark. Film towards the light.")


def report(**changes: object) -> SetReport:
    return handmade.analysis().report.model_copy(update=changes)


def unfit() -> SetReport:
    quality = report().quality.model_copy(update={"usable": False, "problems": [DARK]})
    return report(quality=quality, count=None, tempo=None)


def _spread(mean: float) -> Spread:
    return Spread(mean=mean, sd=0.1, cv_percent=6.0, trend_per_rep=0.0)


def test_count_and_tempo_are_told_to_the_half_second_in_the_machines_own_words() -> None:
    tempo = TempoPart(lift_s=_spread(1.62), lower_s=_spread(1.86), sentence="")
    said = FirstLook.of(report(tempo=tempo), Motion(lift="in", lower="back"))
    assert said.count == report().count
    assert said.words == "First look: 12 reps, about 1.5 s in and 2 s back."


def test_a_clip_that_will_not_do_is_told_how_to_be_filmed_again() -> None:
    assert FirstLook.of(unfit(), Motion()).words == f"First look: {DARK.text}"


@pytest.mark.parametrize(
    ("first", "last", "said"),
    [
        (12, report(), ""),
        (11, report(), "The first look counted 11; the careful look counts 12."),
        (None, report(), "The first look could not judge this clip; the careful look could."),
        (12, unfit(), "The first look counted 12; the careful look finds that the clip cannot be judged."),
        (None, unfit(), ""),
    ],
)
def test_the_careful_look_says_where_it_counts_otherwise(
    first: int | None, last: SetReport, said: str
) -> None:
    assert correction(FirstLook(first, None, None, ""), last) == said


def test_the_first_words_become_the_step_that_a_check_says_it_is_at() -> None:
    said: list[tuple[str, float]] = []
    following = Following(lambda step, share, first=None: said.append((step, share)))
    following(0.1)
    following.first(FirstLook(12, 1.6, 1.9, "First look: 12 reps, about 1.5 s up and 2 s down."))
    following(0.3)
    following.first(FirstLook(None, None, None, "First look: " + "too dark to see " * 9))
    following(0.4)
    assert [step for step, _ in said[:2]] == [
        "Following the set",
        "First look: 12 reps, about 1.5 s up and 2 s down.",
    ]
    assert len(said[-1][0]) <= MOST_LETTERS
