"""Past sets and the load: the rule, the stack, the estimates, and the CSV that people write."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app import cli
from app.rules.history import SetRecord, parse_history, read_history
from app.rules.progress import Rule, Settings, Stack, advise, brzycki, epley, percent_table
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


RULE = [
    ("two sets at the goal", _sets(17, 17), "more-load", 65.0),
    ("a rest before them changes nothing", _sets(11, 17, 18), "more-load", 65.0),
    ("one set is not two", _sets(17), "hold", None),
    ("once over is not twice", _sets(15, 18), "hold", None),
    ("one short of the goal", _sets(17, 16), "hold", None),
    ("at target", _sets(14, 13), "hold", None),
    ("under the target", _sets(18, 11), "hold-or-lower", None),
    ("the step is over a tenth", _sets(17, 17, load=45.0), "more-repetitions-first", None),
    ("with one add-on the next is a plate", _sets(17, 17, load=80.0), "more-repetitions-first", None),
    ("pain today", _sets(18, 18, pain=True), "ask-trainer", None),
    ("a fault left open", _sets(18, 18, flags=2, dismissed=1), "ask-trainer", None),
    ("all faults dismissed", _sets(18, 18, flags=2, dismissed=2), "more-load", 65.0),
]


@pytest.mark.parametrize(("sets", "answer", "load"), [r[1:] for r in RULE], ids=[r[0] for r in RULE])
def test_the_rule_answers_with_a_question(sets: list[SetRecord], answer: str, load: float | None) -> None:
    (advice,) = advise(sets)
    assert (advice.answer, advice.next_load) == (answer, load)
    assert advice.question.endswith("?")


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
    (advice,) = advise(_sets(14, 16))
    assert advice.answer == "hold"
    assert "16 repetitions are over the target's 15: a note, not a fault." in advice.notes


def test_by_days_the_last_set_of_each_day_counts() -> None:
    a, b, c, d = _sets(18, 14, 18, 14)
    first, second = date(2026, 5, 4), date(2026, 5, 7)
    sets = [replace(b, day=first), replace(a, day=first), replace(d, day=second), replace(c, day=second)]
    assert advise(sets)[0].answer == "hold"
    assert advise(sets, Settings(rule=Rule(per="day")))[0].answer == "more-load"


STEPS = [
    (60, "lb", 1, 1, 65), (65, "lb", 1, 1, 75), (65, "lb", 1, 2, 70), (60, "lb", -1, 1, 50),
    (15, "lb", -1, 1, None), (60, "lb", 1, 0, 75), (21, "kg", 1, 1, 23.3), (20, "kg", 1, 1, 22.3),
    (7, "kg", -1, 1, None),
]  # fmt: skip


@pytest.mark.parametrize(("load", "unit", "way", "add_ons", "expected"), STEPS)
def test_the_stack_gives_its_smallest_step(load, unit, way, add_ons, expected) -> None:
    assert Stack(add_ons=add_ons).neighbour(load, unit, way) == expected


def test_the_estimates_are_those_of_the_published_formulas() -> None:
    """Epley w(1 + r/30) and Brzycki 36w/(37 - r) meet at ten repetitions; the NSCA column is from memory."""
    assert epley(100, 10) == pytest.approx(brzycki(100, 10)) == pytest.approx(133.333, abs=1e-3)
    table = {row[0]: row[1:] for row in percent_table()}
    assert table[12] == pytest.approx((67, 71.4, 69.4), abs=0.05)
    assert table[15] == pytest.approx((65, 66.7, 61.1), abs=0.05)
    assert table[10] == pytest.approx((75, 75.0, 75.0))
    assert table[1] == (100, 100, 100)
    assert brzycki(50, 37) is None and epley(50, 1) == 50


def test_sources_say_how_far_they_are_known() -> None:
    said = " ".join(advise(_sets(17, 17))[0].sources)
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
        (advice,) = advise(hurt, Settings(stack=Stack(add_ons=add)))
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
def test_a_suggested_load_is_the_smallest_step_within_a_tenth(load, unit, add) -> None:
    stack = Stack(add_ons=add)
    (advice,) = advise(_sets(17, 17, load=load, unit=unit), Settings(stack=stack))
    up = stack.neighbour(load, unit, 1)
    assert up is not None and 0 < up - load <= stack.sizes(unit)[0] + 0.05 * stack.sizes(unit)[1] + 0.01
    assert (advice.next_load is None) == (round(100 * (up - load) / load, 1) > 10.0)


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


BAD = [
    ("04.05.2026,leg-curl,20,kg,14,0,0,no", "line 2, date: '04.05.2026' is no date"),
    ("2026-02-30,leg-curl,20,kg,14,0,0,no", "line 2, date"),
    ("2026-05-04,,20,kg,14,0,0,no", "line 2, exercise"),
    ("2026-05-04,leg\x1b[2J,20,kg,14,0,0,no", r"line 2, exercise: 'leg\x1b[2J' is no exercise"),
    ("2026-05-04,leg-curl,nan,kg,14,0,0,no", "line 2, load: 'nan' is no load"),
    ("2026-05-04,leg-curl,-5,kg,14,0,0,no", "line 2, load"),
    ("2026-05-04,leg-curl,0,kg,14,0,0,no", "line 2, load"),
    ("2026-05-04,leg-curl,5000,kg,14,0,0,no", "line 2, load: 5000 kg is more than any stack holds"),
    ("2026-05-04,leg-curl,20,stone,14,0,0,no", "line 2, unit: 'stone' is no unit; write kg or lb"),
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
    assert "Would you go up from 60 lb to 65 lb" in out and "71.4" in out
    assert "Estimates, not measurements" in out and "call emergency help" in out


def test_settings_change_the_rule_and_bad_ones_are_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    history, own = tmp_path / "sets.csv", tmp_path / "own.toml"
    history.write_text(HEADER + "2026-05-04,leg-curl,60,lb,11,0,0,no\n", encoding="utf-8")
    own.write_text("target_reps = [8, 10]\n[rule]\nbeyond = 1\ntimes = 1\n", encoding="utf-8")
    assert _run("progress", str(history), "--settings", str(own)) == 0
    assert "Would you go up from 60 lb" in capsys.readouterr().out
    own.write_text("[rule]\nbeyond = 'two'\n[stak]\n", encoding="utf-8")
    assert _run("progress", str(history), "--settings", str(own)) == 2
    err = capsys.readouterr().err
    assert "own.toml: rule.beyond: " in err and "stak: is not a known key" in err
