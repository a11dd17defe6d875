"""Past sets and the load: the rule, the stack, the estimates, and the CSV that people write."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app import cli
from app.rules.history import SetRecord, parse_history, read_history
from app.rules.load_answer import Choice, LoadWord, choices, stands
from app.rules.load_settings import Rule, Settings
from app.rules.progress import Advice, advise, first_load
from app.rules.stack import USUAL, Stack
from shared.errors import DefinitionError

HEADER = "date,exercise,load,unit,repetitions,flags,flags_dismissed,pain\n"
RANK = {"ask-trainer": 0, "hold-or-lower": 1, "hold": 2, "more-repetitions-first": 3, "more-load": 3}


def _sets(*counts: int, load: float = 60.0, unit: str = "lb", **last: object) -> list[SetRecord]:
    start = date(2026, 5, 4)
    made = [
        SetRecord(start + timedelta(days=3 * i), "leg-extension", load, unit, n)  # type: ignore[arg-type]
        for i, n in enumerate(counts)
    ]
    return [*made[:-1], replace(made[-1], **last)]  # type: ignore[arg-type]


def _told(*counts: int, load: float = 60.0, unit: str = "lb", **told: object) -> list[SetRecord]:
    """Sets of which all are told alike, such as how they felt."""
    return [replace(r, **told) for r in _sets(*counts, load=load, unit=unit)]  # type: ignore[arg-type]


RULE = [
    ("two sets at the target's end", _sets(15, 15), "more-load", 65.0),
    ("far over it is no fault", _sets(17, 17), "more-load", 65.0),
    ("felt easy", _told(15, 16, feeling="easy"), "more-load", 65.0),
    ("felt right", _told(15, 15, feeling="right", slowed=20.0), "more-load", 65.0),
    ("felt hard", _told(15, 15, feeling="hard"), "hold", None),
    ("felt hard the last time", _sets(15, 15, feeling="hard"), "hold", None),
    ("could not finish", _sets(15, 13, feeling="could-not-finish"), "hold-or-lower", None),
    ("slowed by more than a quarter", _sets(16, 16, slowed=26.0), "hold", None),
    ("slowed by a quarter", _sets(16, 16, slowed=25.0), "more-load", 65.0),
    ("a rest before them changes nothing", _sets(11, 17, 18), "more-load", 65.0),
    ("one set is not two", _sets(17), "hold", None),
    ("once there is not twice", _sets(14, 18), "hold", None),
    ("one short of the target's end", _sets(15, 14), "hold", None),
    ("easy but short of it", _sets(15, 14, feeling="easy"), "hold", None),
    ("under the target", _sets(18, 11), "hold-or-lower", None),
    ("the add-on is over a tenth and goes on", _sets(15, 15, load=30.0), "more-load", 35.0),
    ("a plate is over a tenth", _sets(17, 17, load=35.0), "more-repetitions-first", None),
    ("a plate is over a tenth, after enough", _sets(18, 18, load=35.0), "more-load", 45.0),
    ("pain today", _sets(18, 18, pain=True), "ask-trainer", None),
    ("a fault left open", _sets(18, 18, flags=2, dismissed=1), "ask-trainer", None),
    ("all faults dismissed", _sets(18, 18, flags=2, dismissed=2), "more-load", 65.0),
]


@pytest.mark.parametrize(("sets", "answer", "load"), [r[1:] for r in RULE], ids=[r[0] for r in RULE])
def test_the_rule_answers_with_a_question(sets: list[SetRecord], answer: str, load: float | None) -> None:
    (advice,) = advise(sets)
    assert (advice.answer, advice.next_load) == (answer, load)
    assert advice.question.endswith("?") and advice.words.startswith(advice.question)


SAID = [
    (
        _told(15, 16, feeling="easy", slowed=0.0),
        "Go up to 65 lb? Two steady sets of 15 and 16, felt easy. It is a step of 8 %.",
    ),
    (
        _sets(15, 15, load=30.0),
        "Go up to 35 lb? Two sets of 15. It is a big step: 17 %, with 10 % advised; there is no smaller one.",
    ),
    (
        _sets(17, 17, load=35.0),
        "Stay at 35 lb, and ask for 18 reps first? Two sets of 17. The next load, 45 lb, is a big step: 29 %",
    ),
    (_sets(15, 14, feeling="easy"), "Stay at 60 lb, and ask for 15 reps? Last set: 14 reps, felt easy."),
    (
        _sets(16, 16, slowed=40.0),
        "Stay at 60 lb? Last set: 16 reps, the last ones took 40 % longer. Go up after two steady",
    ),
    (_sets(15, 15, feeling="hard"), "Stay at 60 lb? Last set: 15 reps, felt hard."),
    (
        _sets(15, 13, feeling="could-not-finish"),
        "Stay at 60 lb, or go down to 50 lb? Last set: 13 reps, not finished. Ask why it stopped there.",
    ),
    (_sets(18, 9), "Last set: 9 reps, fewer than 12."),
    (
        _sets(15, 13),
        "Stay at 60 lb? Last set: 13 reps. Go up after two steady sets in a row of 15 or more, none of",
    ),
    (_sets(14, 15), "Stay at 60 lb? Last set: 15 reps, which makes 1 of 2."),
]


@pytest.mark.parametrize(("sets", "words"), SAID, ids=[s[1][:30] for s in SAID])
def test_the_question_says_what_it_rests_on(sets: list[SetRecord], words: str) -> None:
    assert words in advise(sets)[0].words


def test_a_rule_of_days_or_of_one_set_is_said_as_it_is() -> None:
    for rule, words in (
        (
            Rule(per="day", beyond=2),
            "Go up after two days in a row that end with a steady set of 17 or more,",
        ),
        (Rule(per="day", times=1), "Go up after a day that ends with a steady set of 15 or more that is not"),
        (Rule(times=1), "Go up after a steady set of 15 or more that is not hard."),
        (Rule(times=5), "Go up after 5 steady sets in a row of 15 or more, none of them hard."),
    ):
        assert words in advise(_sets(13), Settings(rule=rule))[0].words
    three = advise(_sets(12, 15, 15), Settings(rule=Rule(times=3)))[0]
    assert "which makes 2 of 3." in three.words


def _weeks(*rows: tuple[float, int, dict[str, object]]) -> list[SetRecord]:
    """One set a week: load in lb, repetitions, and what else was told."""
    start = date(2026, 5, 4)
    return [
        SetRecord(start + timedelta(weeks=i), "leg-extension", load, "lb", n, **told)  # type: ignore[arg-type]
        for i, (load, n, told) in enumerate(rows)
    ]


EASY, HARD, HURT = {"feeling": "easy"}, {"feeling": "hard"}, {"pain": True}
HISTORIES = {
    "going up": (
        [
            (30, 13, {}), (30, 15, EASY), (30, 15, EASY),
            (35, 12, {}), (35, 16, {}), (35, 18, EASY), (35, 18, EASY),
        ],
        ["hold", "hold", "more-load", "hold", "hold", "more-repetitions-first", "more-load"],
    ),
    "holding": (
        [
            (60, 15, HARD), (60, 15, HARD), (60, 15, {"slowed": 31.0}),
            (60, 11, HARD), (60, 15, {}), (60, 15, {}),
        ],
        ["hold", "hold", "hold", "hold-or-lower", "hold", "more-load"],
    ),
    "locking": (
        [(60, 15, HURT), (60, 15, {}), (60, 15, {}), (60, 15, {"flags": 1}), (60, 16, {}), (60, 16, {})],
        ["ask-trainer", "ask-trainer", "more-load", "ask-trainer", "ask-trainer", "more-load"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", HISTORIES)
def test_a_history_is_asked_about_week_by_week(name: str) -> None:
    rows, expected = HISTORIES[name]
    sets = _weeks(*rows)
    assert [advise(sets[: i + 1])[0].answer for i in range(len(sets))] == expected


def test_whoever_stays_at_the_targets_end_is_never_refused_for_ever() -> None:
    """A heavy plate waits for a few repetitions more, and is a question then."""
    for load in (7.5, 15.0, 20.0, 35.0, 80.0, 300.0):
        assert advise(_told(18, 18, load=load, feeling="right"))[0].answer == "more-load"


def test_two_for_two_is_a_rule_by_name_and_counts_the_last_set_of_a_day() -> None:
    named = Settings.model_validate({"rule": "two-for-two"})
    assert advise(_sets(16, 16), named)[0].answer == "hold"
    (advice,) = advise(_sets(17, 17), named)
    assert advice.answer == "more-load" and "two-for-two" in advice.sources[0]
    with pytest.raises(ValueError, match="no rule 'two'; there are upper-end and two-for-two"):
        Settings.model_validate({"rule": "two"})


def test_a_press_that_came_tired_says_so() -> None:
    day = date(2026, 5, 4)
    press = SetRecord(day, "shoulder-press", 30.0, "lb", 13)
    chest = replace(press, exercise="chest-press")
    later = replace(press, day=day + timedelta(days=3))
    words = " Done after the chest press that day, so already tired."
    by_name = {a.exercise: a.words for a in advise([chest, press])}
    assert by_name["shoulder-press"].endswith(words) and words not in by_name["chest-press"]
    for fresh in ([press, chest], [chest, later], [replace(chest, exercise="../leg.toml"), press]):
        assert all(words not in a.words for a in advise(fresh))


OWN = Stack(unit="lb", start=20.0, step=10.0, add_on=5.0)


def test_a_pin_moves_by_the_machines_own_stack_and_says_how_much_that_is() -> None:
    own = Settings(stacks={"leg-extension": OWN})
    (advice,) = advise(_sets(15, 15, load=4.0, unit="pin"), own)
    assert advice.next_load == 4.5 and "It is a step of 10 %." in advice.words
    assert advice.question == "Go up to pin 4 with the add-on weight?"
    mixed = [*_sets(15, load=4.0, unit="pin"), *_sets(15, load=50.0, unit="lb")]
    assert advise(mixed, own)[0].answer == "more-load" and advise(mixed)[0].answer == "hold"


def test_how_heavy_a_plate_of_an_unknown_stack_is_cannot_be_told() -> None:
    (advice,) = advise(_sets(15, 15, load=4.0, unit="plates"))
    assert advice.answer == "more-load" and advice.next_load == 5.0
    assert "cannot be told" in advice.words and "%" not in advice.words
    assert not any("one-repetition" in note for note in advise(_sets(12, load=4.0, unit="pin"))[0].notes)


def test_the_first_load_is_one_of_the_two_lightest_plates() -> None:
    assert first_load("leg-curl").startswith("Start with one of the two lightest plates?")
    assert first_load("leg-curl").endswith("takes effort at the end and every rep stays slow.")
    assert "(20 or 30 lb)?" in first_load("leg-curl", Settings(stack=OWN))


@pytest.mark.parametrize(("reps", "told"), [(12, True), (13, False)])
def test_no_maximum_is_estimated_above_twelve_repetitions(reps: int, told: bool) -> None:
    (advice,) = advise(_sets(reps))
    assert any("one-repetition maximum" in note for note in advice.notes) is told


def test_pain_or_an_open_fault_one_set_ago_still_decides() -> None:
    for worry in ({"pain": True}, {"flags": 1}):
        first, *rest = _sets(17, 18, 18)
        before_last = [first, replace(rest[0], **worry), rest[1]]
        assert advise(before_last)[0].answer == "ask-trainer"
    painful, *later = _sets(17, 18, 18, 18)
    (advice,) = advise([replace(painful, pain=True), *later])
    assert advice.answer == "more-load"
    assert any("2026-05-04: ask how it is now" in note for note in advice.notes)


def test_pain_holds_through_a_day_of_many_sets() -> None:
    day = [replace(s, day=date(2026, 5, 4)) for s in _sets(17, 17, 17, 17)]
    assert advise([replace(day[0], pain=True), *day[1:]])[0].answer == "ask-trainer"


def test_after_pain_nothing_about_the_load_is_offered() -> None:
    (advice,) = advise(_sets(18, 18, pain=True))
    assert (advice.next_load, advice.notes, advice.sources) == (None, (), ())
    assert "Ask about the pain of 2026-05-07 first" in advice.question and "65" not in advice.question


def test_a_heavier_load_starts_the_count_anew_and_units_mix() -> None:
    lighter, last = _sets(18, 18)
    assert advise([replace(lighter, load=45.0), last])[0].answer == "hold"
    kilos = [replace(lighter, load=27.3, unit="kg"), last]
    (advice,) = advise(kilos)
    assert advice.answer == "more-load"
    assert any("both kg and lb" in note for note in advice.notes)


def test_over_the_target_once_is_a_note() -> None:
    (advice,) = advise(_sets(13, 16))
    assert advice.answer == "hold"
    assert "16 reps are over the target of 15; that is no fault." in advice.notes


def test_by_days_the_last_set_of_each_day_counts() -> None:
    a, b, c, d = _sets(18, 14, 18, 14)
    first, second = date(2026, 5, 4), date(2026, 5, 7)
    sets = [replace(b, day=first), replace(a, day=first), replace(d, day=second), replace(c, day=second)]
    assert advise(sets)[0].answer == "hold"
    assert advise(sets, Settings(rule=Rule(per="day")))[0].answer == "more-load"


def test_sources_say_how_far_they_are_known() -> None:
    two_for_two = Settings.model_validate({"rule": "two-for-two"})
    said = " ".join(advise(_sets(17, 17), two_for_two)[0].sources)
    for words in ("two-for-two", "second-hand", "2 to 10 %", "2026", "no published source", "from memory"):
        assert words in said


counts = st.lists(st.integers(0, 30), min_size=1, max_size=6)
units = st.sampled_from(["kg", "lb"])
loads = st.sampled_from([7.0, 15.0, 21.0, 45.0, 60.0, 80.0, 120.0, 33.3])


@given(
    counts=counts, load=loads, unit=st.sampled_from(["kg", "lb"]), at=st.integers(1, 2), add=st.integers(0, 3)
)
@settings(max_examples=150, deadline=None)
def test_after_pain_or_an_open_fault_it_never_speaks_for_more(counts, load, unit, at, add) -> None:
    sets = _sets(*counts, load=load, unit=unit)
    at = min(at, len(sets))
    for worry in ({"pain": True}, {"flags": 1}):
        hurt = [*sets[:-at], replace(sets[-at], **worry), *sets[len(sets) - at + 1 :]]
        (advice,) = advise(hurt, Settings(stack=USUAL[unit].model_copy(update={"add_ons": add})))
        assert (advice.answer, advice.next_load) == ("ask-trainer", None)


@given(counts=counts, load=loads, which=st.integers(0, 5), more=st.integers(1, 10))
@settings(max_examples=150, deadline=None)
def test_more_repetitions_never_speak_for_less_load(counts, load, which, more) -> None:
    which = min(which, len(counts) - 1)
    raised = [n + more * (i == which) for i, n in enumerate(counts)]
    before, after = advise(_sets(*counts, load=load))[0], advise(_sets(*raised, load=load))[0]
    assert RANK[after.answer] >= RANK[before.answer]


@given(load=st.floats(2, 300), unit=units, add=st.integers(0, 3))
@settings(max_examples=150, deadline=None)
def test_a_suggested_load_is_the_smallest_step(load, unit, add) -> None:
    stack = USUAL[unit].model_copy(update={"add_ons": add})
    (advice,) = advise(_sets(17, 17, load=load, unit=unit), Settings(stack=stack))
    up = stack.neighbour(load, unit, 1)
    assert up is not None and 0 < up - load <= stack.step + stack.add_on
    large = round(100 * (up - load) / load, 1) > 10.0 and not (add and up - load <= 1.25 * stack.add_on)
    assert advice.next_load == (None if large else up)


@given(text=st.text(max_size=200))
@settings(max_examples=150, deadline=None)
def test_no_text_breaks_the_reader(text: str) -> None:
    try:
        parse_history(HEADER + text)
    except DefinitionError as error:
        assert str(error).isprintable()


def test_a_history_as_people_write_it() -> None:
    text = (
        "\ufeff"
        + HEADER.replace(",", ";")
        + (
            "2026-05-07;Leg-Extension;22,5;KG;14;knee-lockout chest-drop;chest-drop;No\n\n"
            "2026-05-04;leg-extension;22.5;kg;13;0;;no\n"
        )
    )
    path_free = parse_history(text.lstrip("\ufeff"))
    assert [r.day.day for r in path_free] == [4, 7]
    assert path_free[1] == SetRecord(date(2026, 5, 7), "leg-extension", 22.5, "kg", 14, 2, 1, False)
    assert path_free[1].open_faults == 1


def test_a_history_may_say_how_sets_felt_and_ended() -> None:
    text = HEADER.replace("\n", ",felt,slowed\n") + (
        "2026-05-04,leg-curl,4,pin,14,rep-target creep,creep,no,Could not finish,31.5\n"
        "2026-05-07,leg-curl,4,plates,14,rep-target,0,no,,\n"
    )
    first, second = parse_history(text)
    assert (first.unit, first.feeling, first.slowed) == ("pin", "could-not-finish", 31.5)
    assert (second.unit, second.feeling, second.slowed) == ("plates", None, None)
    assert (first.flags, first.dismissed, second.flags) == (1, 1, 0), "a count off the target is no fault"
    for cells, said in ((",good,", "'good' is no feeling"), (",easy,1e3", "'1e3' is no percentage")):
        with pytest.raises(DefinitionError, match=said):
            parse_history(
                HEADER.replace("\n", ",felt,slowed\n") + f"2026-05-04,leg-curl,4,pin,14,0,0,no{cells}\n"
            )


BAD = [
    ("04.05.2026,leg-curl,20,kg,14,0,0,no", "line 2, date: '04.05.2026' is no date"),
    ("2026-02-30,leg-curl,20,kg,14,0,0,no", "line 2, date"),
    ("2026-05-04,,20,kg,14,0,0,no", "line 2, exercise"),
    ("2026-05-04,leg\x1b[2J,20,kg,14,0,0,no", r"line 2, exercise: 'leg\x1b[2J' is no exercise"),
    ("2026-05-04,leg-curl,nan,kg,14,0,0,no", "line 2, load: 'nan' is no load"),
    ("2026-05-04,leg-curl,-5,kg,14,0,0,no", "line 2, load"),
    ("2026-05-04,leg-curl,0,kg,14,0,0,no", "line 2, load"),
    ("2026-05-04,leg-curl,5000,kg,14,0,0,no", "line 2, load: 5000 kg is more than any stack holds"),
    (
        "2026-05-04,leg-curl,20,stone,14,0,0,no",
        "line 2, unit: 'stone' is no unit; write kg, lb, pin or plates",
    ),
    ("2026-05-04,leg-curl,90,pin,14,0,0,no", "line 2, load: 90 pin is more than any stack holds"),
    ("2026-05-04,leg-curl,20,kg,about 12,0,0,no", "line 2, repetitions"),
    ("2026-05-04,leg-curl,20,kg,14,=1+1,0,no", "line 2, flags"),
    ("2026-05-04,leg-curl,20,kg,14,1,2,no", "line 2, flags_dismissed: more was dismissed than flagged"),
    ("2026-05-04,leg-curl,20,kg,14,chest-drop,creep,no", "line 2, flags_dismissed: 'creep' was dismissed"),
    ("2026-05-04,leg-curl,20,kg,14,0,0,", "line 2, pain: '' says neither yes nor no"),
    ("2026-05-04,leg-curl,20,kg,14,0,0", "line 2: has 7 cells where the header has 8"),
    ('2026-05-04,"leg-curl,20,kg,14,0,0,no', "is not valid CSV"),
]


@pytest.mark.parametrize(("row", "said"), BAD, ids=[b[1][:40] for b in BAD])
def test_a_bad_row_is_named_by_line_and_column(
    row: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "sets.csv"
    path.write_text(HEADER + row + "\n", encoding="utf-8")
    assert _run("progress", str(path)) == 2
    out, err = capsys.readouterr()
    assert f"plumbset: sets.csv: {said}" in err and err.count("\n") == 1 and not out


FILES = [
    (b"", "line 1: has no column date, exercise"),
    (b"date,exercise\n", "has no column load, unit"),
    (b"\xff\xfe\x00d", "is not UTF-8 text"),
    (HEADER.encode() + b"x" * 2_000_001, "larger than 2 MB"),
    (HEADER.replace("load", "load,load").encode(), "has the column load twice"),
]


@pytest.mark.parametrize(("data", "said"), FILES, ids=[f[1][:24] for f in FILES])
def test_a_file_that_is_no_history_says_so(data: bytes, said: str, tmp_path: Path) -> None:
    path = tmp_path / "sets.csv"
    path.write_bytes(data)
    with pytest.raises(DefinitionError, match=re.escape(said)):
        read_history(path)


def test_many_bad_rows_stay_one_sentence() -> None:
    with pytest.raises(DefinitionError, match="and 6 more"):
        parse_history(HEADER + "x,leg-curl,20,kg,14,0,0,no\n" * 10)


def _run(*arguments: str) -> int:
    return cli.run(lambda: cli.app(list(arguments), standalone_mode=False))


def test_the_command_asks_shows_the_table_and_the_cautions(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    path = tmp_path / "sets.csv"
    rows = "2026-05-04,leg-curl,60,lb,17,0,0,no\n2026-05-07,leg-curl,60,lb,17,0,0,no\n"
    path.write_text(HEADER + rows, encoding="utf-8")
    assert _run("progress", str(path)) == 0
    out = capsys.readouterr().out
    assert (
        "Go up to 65 lb? Two sets of 17. It is a step of 8 %." in out and "71.4" in out and "61.1" not in out
    )
    assert "Estimates, not measurements" in out and "call for emergency help" in out


def test_the_studios_file_goes_where_no_settings_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "200")
    history = tmp_path / "sets.csv"
    rows = "2026-05-04,leg-curl,5,pin,15,0,0,no\n2026-05-07,leg-curl,5,pin,15,0,0,no\n"
    history.write_text(HEADER + rows, encoding="utf-8")
    stack = '[load.stacks.leg-curl]\nunit = "kg"\nstart = 10\nstep = 5\nadd_on = 2\nadd_ons = 0\n'
    (tmp_path / "studio.toml").write_text(stack, encoding="utf-8")
    assert _run("progress", str(history)) == 0
    assert "The next load, pin 6, is a big step: 17 %, with 10 % advised" in capsys.readouterr().out
    (tmp_path / "studio.toml").write_text(stack.replace("start", "begin"), encoding="utf-8")
    assert _run("progress", str(history)) == 2
    assert "load.stacks.leg-curl.begin: is not a known key" in capsys.readouterr().err


def test_settings_change_the_rule_and_bad_ones_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    history, own = tmp_path / "sets.csv", tmp_path / "own.toml"
    history.write_text(HEADER + "2026-05-04,leg-curl,60,lb,11,0,0,no\n", encoding="utf-8")
    own.write_text("target_reps = [8, 10]\n[rule]\nbeyond = 1\ntimes = 1\n", encoding="utf-8")
    monkeypatch.setenv("COLUMNS", "200")
    assert _run("progress", str(history), "--settings", str(own)) == 0
    assert "Go up to 65 lb? One set of 11." in capsys.readouterr().out
    own.write_text("[rule]\nbeyond = 'two'\n[stak]\n", encoding="utf-8")
    assert _run("progress", str(history), "--settings", str(own)) == 2
    err = capsys.readouterr().err
    assert "own.toml: rule.beyond: " in err and "stak: is not a known key" in err


def _answered(advice: Advice, choice: Choice, load: float) -> LoadWord:
    last = advice.last
    return LoadWord(
        choice, load, last.load, unit=last.unit, asked=advice.answer, set_id=last.set_id or 0, by="Runa",
        at=datetime(2026, 5, 8, tzinfo=UTC),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("sets", "offered"),
    [
        (_sets(15, 15), {"up": 65.0, "stay": 60.0, "lower": 50.0}),
        (_sets(15, 13), {"up": 65.0, "stay": 60.0, "lower": 50.0}),
        (_sets(17, 17, load=35.0), {"up": 45.0, "stay": 35.0, "lower": 30.0}),
        (_sets(15, 15, load=15.0), {"up": 20.0, "stay": 15.0}),
        (_sets(15, 9), {"stay": 60.0, "lower": 50.0}),
        (_sets(15, 15, pain=True), {"stay": 60.0, "lower": 50.0}),
        (_sets(15, 15, flags=1), {"stay": 60.0, "lower": 50.0}),
    ],
)
def test_a_trainer_can_go_up_stay_or_go_down_and_never_up_after_pain(
    sets: list[SetRecord], offered: dict[str, float]
) -> None:
    assert choices(advise(sets)[0], Settings()) == offered


def test_an_answer_stands_until_there_is_something_new() -> None:
    sets = _sets(15, 15, set_id=7)
    (advice,) = advise(sets)
    said = _answered(advice, "up", 65.0)
    assert stands(said, advice) and not stands(None, advice)
    new = {
        "a newer set": [*sets, replace(sets[-1], set_id=8)],
        "pain told of it": [sets[0], replace(sets[1], pain=True)],
        "a flag agreed with": [sets[0], replace(sets[1], flags=1)],
        "felt hard after all": [sets[0], replace(sets[1], feeling="hard")],
        "another load after all": [replace(r, load=50.0) for r in sets],
    }
    assert [name for name, history in new.items() if stands(said, advise(history)[0])] == []


def test_an_answer_stands_in_whatever_unit_the_room_reads_weights() -> None:
    (in_kg,) = advise([replace(r, load=30.0, unit="kg") for r in _sets(15, 15, set_id=7)])
    said = _answered(in_kg, "up", 32.5)
    read_in_lb = replace(in_kg, last=replace(in_kg.last, load=66.1, unit="lb"))
    assert stands(said, in_kg) and stands(said, read_in_lb)
    others: dict[str, SetRecord] = {
        "heavier": replace(in_kg.last, load=67.2, unit="lb"),
        "the bare number": replace(in_kg.last, load=30.0, unit="lb"),
        "a place on the stack": replace(in_kg.last, load=30.0, unit="pin"),
    }
    assert [name for name, last in others.items() if stands(said, replace(in_kg, last=last))] == []
