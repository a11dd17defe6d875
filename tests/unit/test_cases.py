"""Reviewed sets as numbers: what is in a case, and what judging it anew makes of the trainer's word."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from app.rules.case_score import Score, as_it_was, changed_signals, score_case
from app.rules.cases import Case, Judged, by_check, by_week, case_of, found_words, outcome
from app.rules.told import Said
from shared.errors import UsageError
from shared.exercise import Exercise, find_exercise
from shared.limit import Limit
from tests.samples import checked
from vision.judging.anew import Numbers, judge_numbers, untold
from vision.judging.approved import Trace, read_traces
from vision.judging.confirm import NOT_CONFIRMED
from vision.telling.tables import signals_csv

DAY = date(2026, 11, 25)
CLIP = "leg-extension-faulty"
LOCKED, DROP = "knee-lockout", "chest-drop"


def _case(said: dict[str, Said], counted: int | None = None) -> Case:
    analysis, _ = checked(CLIP)
    case = case_of(analysis.report, said, analysis.exercise, DAY, counted)
    assert case is not None
    return case


def _traces() -> dict[str, Trace]:
    return read_traces(signals_csv(checked(CLIP)[0]), Path("signals.csv"))


def _flag(check: str = LOCKED) -> str:
    return next(f"{f.check}:{f.rep}" for f in checked(CLIP)[0].report.flags() if f.check == check)


def _scored(case: Case, exercise: Exercise) -> Score:
    found = Score()
    score_case(case, _traces(), exercise, "00001", found)
    return found


def _with_limit(exercise: Exercise, check: str, **limit: float) -> Exercise:
    """The exercise with another limit for one check."""
    changed = (
        s.model_copy(update={"limit": Limit(**limit)}) if s.id == check else s for s in exercise.checks
    )
    return exercise.model_copy(update={"checks": tuple(changed)})


@pytest.mark.parametrize("name", ["leg-extension-faulty", "chest-fly-faulty", "lat-pulldown-faulty"])
def test_judged_from_its_numbers_a_sample_gets_the_verdicts_it_got_from_its_clip(name: str) -> None:
    analysis, _ = checked(name)
    report = analysis.report
    case = case_of(report, {"x": Said("agree")}, analysis.exercise, DAY, None)
    assert case is not None
    traces = read_traces(signals_csv(analysis), Path("signals.csv"))
    numbers = Numbers(view=case.view, in_cm=case.in_cm, reps=case.reps, shares=case.shares, traces=traces)
    now = {(f.check, f.rep): f.verdict for f in judge_numbers(numbers, analysis.exercise)}
    doubted = {f.key for f in case.findings if f.doubted}
    differing = [f.key for f in case.findings if now.get(f.key, f.verdict) != f.verdict]
    assert len(now) > 80 and set(differing) <= doubted


def test_a_repetition_whose_range_could_not_be_told_is_not_flagged_for_it_from_its_numbers() -> None:
    """It was counted, though its joint seemed to go less than half as far."""
    analysis, _ = checked(CLIP)
    case = _case({_flag(DROP): Said("agree")})
    rep = case.reps[2]
    seemed = rep.model_copy(update={"drive_max_deg": 0.6 * rep.drive_min_deg + 0.4 * rep.drive_max_deg})
    numbers = Numbers(
        view=case.view, in_cm=case.in_cm, reps=[*case.reps[:2], seemed, *case.reps[3:]],
        shares={number: share for number, share in case.shares.items() if number != rep.number},
        traces=_traces(),
    )  # fmt: skip
    found = {f.rep: f.verdict for f in judge_numbers(numbers, analysis.exercise) if f.check == "short-range"}
    assert found[rep.number] in ("watch", "cannot-tell")


def test_a_flag_that_one_look_alone_showed_is_told_as_doubted() -> None:
    analysis, _ = checked(CLIP)
    report = analysis.report
    flag = report.flags()[0]
    watch = flag.model_copy(update={"verdict": "watch", "prompt": None, "reason": NOT_CONFIRMED})
    others = [watch if f == flag else f for f in report.findings]
    changed = report.model_copy(update={"findings": others})
    case = case_of(changed, {"x": Said("agree")}, analysis.exercise, DAY, None)
    assert case is not None
    assert [f.key for f in case.findings if f.doubted] == [(flag.check, flag.rep)]


def test_a_case_holds_no_name_no_words_no_file_and_no_day() -> None:
    said = {_flag(): Said("reword", "Stop earlier, Ilse."), "added:1": Said("added", "Ilse wobbled.", 9.0)}
    text = _case(said).model_dump_json()
    report = checked(CLIP)[0].report
    for private in ("Ilse", "wobbled", report.clip.file, "2026-11", "prompt", 'reason"', "title"):
        assert private not in text
    assert '"week":"2026-W48"' in text and '"said":"reword"' in text


def test_a_set_of_which_nobody_has_spoken_is_no_case() -> None:
    analysis, _ = checked(CLIP)
    for said in ({}, {"set": Said("note", "Well done.")}):
        assert case_of(analysis.report, said, analysis.exercise, DAY, None) is None


def test_the_same_version_changes_nothing() -> None:
    said = {_flag(): Said("agree"), "added:1": Said("added", "", 3.0)}
    found = _scored(_case(said, counted=11), checked(CLIP)[0].exercise)
    assert not found.moved and sum(c["kept"] for c in found.changes.values()) == 1
    assert (found.counts_wrong, found.unnamed) == (1, 1)
    assert "pivot-off" not in found.changes


@pytest.mark.parametrize(
    ("word", "limit", "change"),
    [
        ("agree", 30.0, "lost"),
        ("reword", 30.0, "lost"),
        ("no-fault", 30.0, "gone"),
        ("agree", 5.0, "kept"),
        ("no-fault", 5.0, "stays"),
    ],
)
def test_another_limit_is_held_against_the_trainers_word(word: str, limit: float, change: str) -> None:
    case = _case({_flag(DROP): Said(word)})
    found = _scored(case, _with_limit(checked(CLIP)[0].exercise, DROP, at_most=limit))
    assert found.changes["leg-extension", DROP][change] == 1  # type: ignore[index]


def test_a_missed_fault_with_its_check_named_is_found_by_a_stricter_limit() -> None:
    report = checked(CLIP)[0].report
    clear = next(f for f in report.findings if f.check == LOCKED and f.verdict == "clear")
    at = next(r.start_s for r in report.reps if r.number == clear.rep) + 0.1
    case = _case({"added:1": Said("added", "", at, check=LOCKED)})
    same = _scored(case, checked(CLIP)[0].exercise)
    stricter = _scored(case, _with_limit(checked(CLIP)[0].exercise, LOCKED, at_most=100.0))
    assert same.changes["leg-extension", LOCKED]["open"] == 1
    assert stricter.changes["leg-extension", LOCKED]["found"] == 1


def test_what_hangs_on_a_mark_or_on_a_signal_that_was_not_kept_is_left_out() -> None:
    exercise, columns = checked(CLIP)[0].exercise, list(_traces())
    assert "pivot-off" in untold(exercise, columns)
    without_hip = [c for c in columns if not c.startswith("trunk")]
    assert set(untold(exercise, without_hip)) > set(untold(exercise, columns))


def test_a_signal_that_is_a_ratio_can_be_judged_anew() -> None:
    exercise, columns = checked(CLIP)[0].exercise, list(_traces())
    as_ratio = [column.replace("trunk_deg", "trunk_ratio") for column in columns]
    assert as_ratio != columns and untold(exercise, as_ratio) == untold(exercise, columns)


def test_what_cannot_be_judged_is_counted_aside_and_never_as_lost() -> None:
    case = _case({_flag(DROP): Said("agree")})
    signal = checked(CLIP)[0].exercise.check(DROP).signal  # type: ignore[union-attr]
    found = Score()
    score_case(case, _traces(), checked(CLIP)[0].exercise, "00001", found, otherwise=[str(signal)])
    assert ("leg-extension", DROP) not in found.changes and found.cannot[DROP] > 0


def test_limits_of_the_members_own_and_the_asked_tempo_hold_as_they_did() -> None:
    exercise = find_exercise("leg-extension")
    own = [{"check": LOCKED, "limit": 178.0}, {"check": "own-range-max", "limit": 150.0}]
    case = _case({_flag(): Said("agree")}).model_copy(update={"tempo": (2.0, 4.0)})
    case = Case.model_validate(case.model_dump(by_alias=True) | {"limits": own})
    as_then = {spec.id: spec for spec in as_it_was(case, exercise).checks}
    assert as_then["own-range-max"].limit == Limit(at_most=150.0)
    assert LOCKED not in as_then, "the member's own range bounds that end"
    case = case.model_copy(update={"limits": case.limits[:1]})
    held = as_it_was(case, exercise)
    assert held.check(LOCKED).limit == Limit(at_most=178.0)  # type: ignore[union-attr]
    assert held.tempo is not None and held.tempo.lower_s == 4.0


def test_a_definition_that_measures_or_counts_otherwise_is_not_judged_from_kept_signals() -> None:
    shipped = find_exercise("leg-extension")
    assert changed_signals(shipped, shipped) == set()
    other = next(n for n in shipped.signals if n != shipped.drive.signal)
    one = shipped.signals[other]
    signals = shipped.signals | {other: one.model_copy(update={"params": {**one.params, "point": "x"}})}
    assert changed_signals(shipped.model_copy(update={"signals": signals}), shipped) == {other}
    falling = shipped.drive.model_copy(update={"lift": "falling"})
    with pytest.raises(UsageError, match="from their clips"):
        changed_signals(shipped.model_copy(update={"drive": falling}), shipped)


@pytest.mark.parametrize(
    ("verdict", "word", "became"),
    [
        ("flag", "agree", "right"),
        ("flag", "reword", "right"),
        ("flag", "no-fault", "wrong"),
        ("watch", "agree", "watched"),
        ("clear", "reword", "missed"),
        ("watch", "no-fault", None),
        ("flag", "note", None),
    ],
)
def test_what_a_trainers_word_makes_of_a_finding(verdict: Any, word: str, became: str | None) -> None:
    assert outcome(verdict, word) == became


def test_tallies_put_first_what_was_corrected_most_and_the_newest_week() -> None:
    one = Judged(date(2026, 11, 23), "leg-curl", "a", "right")
    rows = [one, replace(one, check="b", outcome="missed"), replace(one, week=date(2026, 11, 16))]
    assert [(t.of[1], t["right"], t["missed"]) for t in by_check(rows)] == [("b", 0, 1), ("a", 2, 0)]
    assert [t.of[0] for t in by_week(rows)] == ["2026-11-23", "2026-11-16"]
    assert found_words(by_check(rows)) == "Of 2 flags 2 were right; 1 fault was missed."
