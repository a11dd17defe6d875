"""``--progress json``: the lines that another program reads while a check runs."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import handmade
import pytest

from app.command.json_lines import JsonLines
from app.jobs.following import Following
from vision.telling.first_look import FirstLook

FIRST = FirstLook(12, 1.6, 1.9, "First look: 12 reps, about 1.5 s up and 2 s down.")
DARK = FirstLook(None, None, None, "First look: The picture is too dark. Film towards the light.")


class Clock:
    """A clock that is set by hand, s."""

    now = 100.0

    def __call__(self) -> float:
        return self.now


def lines(work: Callable[[JsonLines, Clock], None]) -> list[dict[str, Any]]:
    said: list[str] = []
    clock = Clock()
    work(JsonLines(said.append, clock), clock)
    return [json.loads(line) for line in said]


def test_a_line_tells_stage_share_and_the_seconds_left_at_this_pace() -> None:
    def work(say: JsonLines, clock: Clock) -> None:
        say("Following the set", 0.0)
        clock.now += 10.0
        say("Following the set", 0.25)
        say("Following the set", 0.251)
        clock.now += 30.0
        say("Writing the report", 0.0)
        clock.now += 1.0
        say("Writing the report", 0.5)

    assert lines(work) == [
        {"stage": "Following the set", "share": 0.0, "at_s": 0.0, "seconds_left": None},
        {"stage": "Following the set", "share": 0.25, "at_s": 10.0, "seconds_left": 30.0},
        {"stage": "Writing the report", "share": 0.0, "at_s": 40.0, "seconds_left": None},
        {"stage": "Writing the report", "share": 0.5, "at_s": 41.0, "seconds_left": 1.0},
    ]


@pytest.mark.parametrize(("look", "fit"), [(FIRST, True), (DARK, False)])
def test_the_first_words_come_once_and_the_stage_keeps_its_name(look: FirstLook, fit: bool) -> None:
    def work(say: JsonLines, clock: Clock) -> None:
        following = Following(say)
        following(0.2)
        following.first(look)
        following(0.3)

    told = lines(work)
    assert [line["stage"] for line in told] == ["Following the set"] * 3
    assert [line.get("first") for line in told[::2]] == [None, None]
    assert told[1]["first"] == {
        "fit": fit, "count": look.count, "lift_s": look.lift_s, "lower_s": look.lower_s, "words": look.words,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("look", "first", "words"),
    [
        (FIRST, "confirmed", ""),
        (FirstLook(11, 1.6, 1.9, ""), "corrected", "The first look counted 11; the careful look counts 12."),
        (None, None, None),
    ],
)
def test_the_last_line_confirms_or_corrects_the_first_words(
    look: FirstLook | None, first: str | None, words: str | None
) -> None:
    def work(say: JsonLines, clock: Clock) -> None:
        say("Following the set", 0.1, look)
        say.done(handmade.analysis().report)

    last = lines(work)[-1]
    assert (last["stage"], last["fit"], last["count"]) == ("Done", True, 12)
    assert (last["first"], last["words"]) == (first, words)
