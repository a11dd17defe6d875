"""The day's plain rules: which machines are due, what to work on next, how the load is talked about."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from app.page.load_words import for_member, for_trainer, said_on
from app.rules import circuit as rules
from app.rules import room
from app.rules.history import SetRecord
from app.rules.load_answer import LoadWord
from app.rules.next_work import Looked, next_lines
from app.rules.progress import advise
from app.rules.room import usual_machines
from app.rules.told import Prompt, Told
from shared.exercise import exercise_names, find_exercise

TODAY = date(2026, 3, 5)
YESTERDAY, BEFORE = TODAY - timedelta(days=1), TODAY - timedelta(days=2)


USUAL = ["chest-press", "leg-extension", "lat-pulldown", "leg-curl", "shoulder-press", "chest-fly"]


def test_the_usual_circuit_is_six_machines_and_a_seventh_with_the_trainers_word() -> None:
    six = rules.machines(None, (), usual_machines())
    needs = [n for n in exercise_names() if find_exercise(n).needs_clearance]
    assert six == USUAL and not set(six) & set(needs)
    assert rules.machines(None, needs, usual_machines()) == [*six, *needs]


def test_a_machine_without_a_place_comes_after_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    own = {name: find_exercise(name) for name in exercise_names()}
    own["chest-press"] = own["chest-press"].model_copy(update={"circuit_place": None})
    own["leg-curl"] = own["leg-curl"].model_copy(update={"circuit_place": None, "title": "Abductor"})
    monkeypatch.setattr(rules, "exercise_of", own.get)
    monkeypatch.setattr(room, "exercise_of", own.get)
    rest = [name for name in USUAL if name not in ("chest-press", "leg-curl")]
    assert rules.machines(None, (), usual_machines()) == [*rest, "leg-curl", "chest-press"]


def test_a_circuit_of_ones_own_keeps_its_order_and_loses_what_is_no_longer_known() -> None:
    assert rules.machines(["leg-curl", "gone", "chest-fly"], (), usual_machines()) == [
        "leg-curl",
        "chest-fly",
    ]


@pytest.mark.parametrize(
    ("filmed", "done", "last", "cleared", "state"),
    [
        ({}, set(), None, True, "due"),
        ({"reverse-fly": 7}, set(), TODAY, True, "filmed"),
        ({}, {"reverse-fly"}, TODAY, True, "done"),
        ({"reverse-fly": 7}, {"reverse-fly"}, TODAY, True, "filmed"),
        ({}, set(), YESTERDAY, True, "resting"),
        ({}, set(), BEFORE, True, "due"),
        ({}, set(), None, False, "ask"),
        ({"reverse-fly": 7}, set(), TODAY, False, "filmed"),
    ],
)
def test_a_machine_is_due_unless_done_today_or_resting(
    filmed: dict[str, int], done: set[str], last: date | None, cleared: bool, state: str
) -> None:
    known = {} if last is None else {"reverse-fly": last}
    given = {"reverse-fly"} if cleared else set()
    found = rules.circuit(["reverse-fly"], given, filmed, done, known, TODAY, stop=False)
    assert found.stations[0].state == state and found.stations[0].set_id == filmed.get("reverse-fly")


def _looked(
    exercise: str, day: date, *prompts: Prompt, state: str = "released", stop: bool = False
) -> Looked:
    return Looked(1, exercise, day, Told(state, "", stop, list(prompts), by="Runa"))  # type: ignore[arg-type]


def _prompt(check: str, words: str, reps: int = 1, origin: str = "tool") -> Prompt:
    return Prompt(check.title(), words, list(range(1, reps + 1)), origin=origin, check=check)  # type: ignore[arg-type]


def test_an_answer_of_today_is_of_today_far_from_greenwich(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Pacific/Auckland")
    time.tzset()
    try:
        at = datetime(2026, 3, 4, 20, tzinfo=UTC)
        given = LoadWord("up", 32.5, 30.0, unit="kg", asked="more-load", set_id=1, by="Runa", at=at)
        assert said_on(given, TODAY) == "today"
    finally:
        monkeypatch.undo()
        time.tzset()


def test_the_order_of_worry_then_what_came_back_then_the_trainers_own_words() -> None:
    sets = [
        _looked("leg-curl", TODAY, _prompt("too-fast", "Slower.", reps=9), _prompt("chest-drop", "Tall.")),
        _looked("chest-press", YESTERDAY, _prompt("elbow-lockout", "Stay soft.")),
        _looked("chest-fly", YESTERDAY, _prompt("uneven-tempo", "Even.", origin="reworded")),
        _looked("leg-curl", BEFORE, _prompt("chest-drop", "Tall.")),
    ]
    lines = next_lines(sets, TODAY)
    assert [line.words for line in lines] == ["Stay soft.", "Tall.", "Even."]
    assert "a joint was taken to its end under load" in lines[0].why
    assert "also in the set before, Tue 3 March" in lines[1].why and "in Runa's words" in lines[2].why


def test_what_the_last_set_no_longer_shows_is_settled() -> None:
    sets = [_looked("leg-curl", TODAY), _looked("leg-curl", BEFORE, _prompt("chest-drop", "Tall."))]
    assert next_lines(sets, TODAY) == []


def test_a_prompt_nobody_has_looked_at_says_so() -> None:
    lines = next_lines(
        [_looked("leg-curl", TODAY, _prompt("too-fast", "Slower."), state="preliminary")], TODAY
    )
    assert not lines[0].looked_at


def test_old_sets_and_sets_with_pain_give_nothing_to_work_on() -> None:
    one = _looked("leg-curl", TODAY, _prompt("too-fast", "Slower."))
    assert next_lines([replace(one, day=TODAY - timedelta(weeks=9))], TODAY) == []
    assert next_lines([one, _looked("chest-fly", BEFORE, stop=True)], TODAY) == []


def _history(*counts: int, pain: bool = False, flags: int = 0) -> list[SetRecord]:
    days = [TODAY - timedelta(days=3 * (len(counts) - i)) for i in range(len(counts))]
    return [
        SetRecord(d, "leg-extension", 30.0, "kg", n, flags, 0, pain)
        for d, n in zip(days, counts, strict=True)
    ]


@pytest.mark.parametrize(
    ("history", "trainer", "member"),
    [
        (_history(14, pain=True), "Ask about the pain of Mon 2 March 2026 first", "Speak to your trainer"),
        (_history(14, flags=2), "Settle the 2 flags of Mon 2 March 2026 first", "Speak to your trainer"),
        (_history(9), "Stay at 30 kg, or go down", "keep 30 kg or go lighter"),
        (_history(14), "Stay at 30 kg? Last set: 14 reps.", "14 reps at 30 kg in your last set"),
        (_history(17, 18), "Go up to 32.5 kg?", "whether it is time for more"),
    ],
)
def test_the_load_is_a_question_for_the_trainer_and_never_an_order_for_the_member(
    history: list[SetRecord], trainer: str, member: str
) -> None:
    advice = advise(history)[0]
    assert trainer in for_trainer(advice) and "Ask the trainer" not in for_trainer(advice)
    said = for_member(advice)
    assert member in said and "fault" not in said and "pain" not in said
    assert advice.next_load is None or f"{advice.next_load:g}" not in said
