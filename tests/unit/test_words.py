"""The rules of ``docs/words.md`` that can be checked, on every text a member may read."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date, timedelta
from html import unescape
from itertools import product
from pathlib import Path

import pytest

from app.batches.pages import index_html
from app.page.load_words import ALWAYS_ASK, for_member
from app.page.sheet import sheet_html
from app.rules import told
from app.rules.history import SetRecord
from app.rules.progress import advise
from app.views import day, results
from shared.domain import Unit
from shared.exercise import CheckSpec, Exercise, Motion, exercise_names, find_exercise
from shared.member import Member, with_member
from shared.own_range import TALK_FIRST
from shared.report import SetReport
from tests.synthetic import RepTruth, SetTruth, drive_signal
from tests.unit import handmade
from vision.common.cautions import CAUTIONS, LAST_WORD
from vision.common.notices import TREMBLES
from vision.common.prompts import for_member as fit_number
from vision.common.prompts import member_prompt
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.tempo import measure_tempo
from vision.telling.cues import headline
from vision.telling.handout import NOTHING, UNSTEADY
from vision.telling.html import render_html
from vision.telling.words import count_words, ready_words

#: What a cue begins with: something to do.
DO = ("Keep", "Let", "Look", "Move", "Rest", "Sit", "Slide", "Slow", "Stay", "Stop", "Take")
MOST_LETTERS = 110
NEVER = ("-", "−", "–", "trunk", "give or take", "%", "uncertain", "--", "[", "{", LAST_WORD)
#: Measured values and their half-widths, from nothing over every limit to nonsense.
VALUES = (
    -181.4, -9.96, -3.2, -0.51, -0.04, 0.0,
    0.04, 0.51, 0.6, 0.97, 1.0, 2.0, 3.0, 6.24, 10.3, 47.0, 172.4, 184.0,
)  # fmt: skip
HALVES = (0.0, 0.02, 0.3, 0.5, 4.2, 40.0)
LEG = find_exercise("leg-extension")


def _as_they_are_for(exercise: Exercise) -> Iterator[CheckSpec]:
    """The checks of a machine for anyone, and for a member who is new and has a range of their own."""
    own = {"range": {"at_least": 70.0, "at_most": 150.0}} if exercise.drive_joint else {}
    member = {"schema": "plumbset.member/1", "exercises": {exercise.name: own} if own else {}}
    yield from exercise.checks
    asked = {"lift_s": 2.5, "lower_s": 3}
    yield from with_member(exercise, Member.model_validate({**member, "new": True, "tempo": asked})).checks


def _said(exercise: Exercise) -> Iterator[str]:
    """Every prompt of a machine, with and without a body height."""
    for spec, value, half in product(_as_they_are_for(exercise), VALUES, HALVES):
        units: tuple[Unit, ...] = ("cm", "trunk_fraction") if spec.limit.is_length else (spec.unit,)
        for unit in units:
            words = member_prompt(spec, "flag", value, half, unit)
            if words is not None:
                yield words


def _broken(words: str) -> list[str]:
    """Which rules a member's prompt breaks."""
    cue = re.split(r"[:.]", words)[0]
    return [
        *(f"holds {never!r}" for never in NEVER if never in words),
        *([] if len(words.removesuffix(TALK_FIRST)) <= MOST_LETTERS else [f"has {len(words)} letters"]),
        *([] if words.split()[0].strip(":,") in DO else ["begins with nothing to do"]),
        *(["has a number in its cue"] if re.search(r"\d", cue) else []),
        *([] if re.search(r"\byou", words) else ["does not speak to the member"]),
        *(["runs on"] if len(re.findall(r"\.(?!\d)", words)) > 2 else []),
        *(["has two spaces"] if "  " in words or " ." in words or " ," in words else []),
    ]  # fmt: skip


@pytest.mark.parametrize("name", exercise_names())
def test_every_prompt_of_every_machine_keeps_the_rules(name: str) -> None:
    said = set(_said(find_exercise(name)))
    assert len(said) >= sum(spec.prompt is not None for spec in find_exercise(name).checks)
    assert {words: broken for words in said if (broken := _broken(words))} == {}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("Keep your chest tall: your trunk came forward.", "trunk"),
        ("Stop sooner: you went -3 cm too far.", "'-'"),
        ("Stop at 172 degrees: you locked out.", "number in its cue"),
        ("Posture: you lost it.", "nothing to do"),
        ("Keep still: they moved.", "does not speak"),
        (f"Keep your feet still. {LAST_WORD}", "last word"),
        ("Slow down. You went fast. You hurried. You ran.", "runs on"),
    ],
)
def test_what_breaks_a_rule_is_seen(words: str, said: str) -> None:
    assert said in str(_broken(words))


@pytest.mark.parametrize(
    ("value", "half", "unit", "said"),
    [
        (6.24, 1.0, "cm", "6 cm"),
        (6.24, 1.3, "cm", None),
        (0.6, 0.1, "s", "0.6 seconds"),
        (0.6, 0.13, "s", None),
        (0.12, 0.01, "trunk_fraction", None),
        (47.0, 1.0, "%", None),
        (0.47, 0.01, "ratio", None),
        (-3.2, 0.1, "cm", None),
        (0.0, 0.0, "cm", None),
    ],
)
def test_a_number_is_told_where_it_is_sure_enough_and_helps(
    value: float, half: float, unit: Unit, said: str | None
) -> None:
    assert fit_number(value, half, unit) == said


def test_a_cue_stands_alone_where_its_number_is_not_fit() -> None:
    slide = LEG.check("hip-slide")
    assert member_prompt(slide, "flag", 6.2, 1.0, "cm") == (
        "Keep your hips back against the pad: you slid forward 6 cm."
    )
    cue = "Keep your hips back against the pad: you slid forward."
    assert member_prompt(slide, "flag", 6.2, 3.0, "cm") == cue
    assert member_prompt(slide, "flag", 0.12, 0.01, "trunk_fraction") == cue


@pytest.mark.parametrize("name", exercise_names())
def test_tempo_is_a_plain_sentence_in_the_machines_own_words(name: str) -> None:
    motion = find_exercise(name).motion
    for lift, lower in product((0.4, 0.9, 1.5, 3.0), (0.4, 0.9, 1.6, 3.2)):
        reps = find_reps(drive_signal(SetTruth((RepTruth(lift, 0.3, lower),) * 8), 0.2), "rising")
        assert reps is not None
        said = measure_tempo(reps, motion).sentence
        assert not [never for never in NEVER if never in said] and len(said) <= MOST_LETTERS, said
        assert said.endswith("even.") or said.endswith("uneven."), said
        if "each way" not in said:
            assert f" s {motion.lift} and " in said and f" s {motion.lower}" in said


def test_arms_of_the_flies_go_in_and_back() -> None:
    ways = {name: find_exercise(name).motion for name in exercise_names()}
    assert ways["chest-fly"] == Motion(lift="in", lower="back")
    assert ways["reverse-fly"] == Motion(lift="back", lower="in")
    assert ways["leg-extension"] == Motion(lift="up", lower="down")


def test_a_count_says_what_was_full_and_what_was_short() -> None:
    report = handmade.analysis().report
    assert count_words(report) == "12 full, 1 short"
    said = "Stop just short of locking your knees. Reps 4 and 9 of 13 (12 full, 1 short)"
    assert headline(report) == told.preliminary(report, pain=False).headline == said
    whole = [rep for rep in report.reps if not rep.partial]
    assert count_words(report.model_copy(update={"reps": whole})) == "12 reps"


def _history(*counts: int, pain: bool = False, flags: int = 0) -> list[SetRecord]:
    start = date(2026, 3, 2)
    return [
        SetRecord(start + timedelta(days=3 * i), "leg-extension", 30.0, "kg", n, flags, 0, pain)
        for i, n in enumerate(counts)
    ]


def _member_sentences() -> list[str]:
    histories = (_history(14, pain=True), _history(14, flags=1), _history(9), _history(14), _history(17, 18))
    asked = [for_member(advise(history)[0]) for history in histories]
    fixed = [told.STOP, told.NOT_LOOKED_AT, day.NOTHING_OPEN, day.NOTE, ALWAYS_ASK]
    return [*fixed, *day.STATES.values(), *asked]


def test_what_else_a_member_reads_has_no_figure_they_cannot_use() -> None:
    assert [(words, never) for words in _member_sentences() for never in NEVER if never in words] == []


def _words_of(page: str) -> str:
    bare = re.sub(r"<(style|script|svg).*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", bare)).split())


def _sheet(report: SetReport) -> str:
    said = [(p.title, p.words) for p in told.tool_prompts(report)]
    content = {
        "name": "Ilse",
        "today": "today",
        "stop": "",
        "cards": [],
        "prompts": said,
        "sets": [],
        "cautions": CAUTIONS,
    }
    return sheet_html(content, 12.0)


@pytest.mark.parametrize("usable", [True, False])
def test_a_page_says_once_who_has_the_last_word(usable: bool) -> None:
    made = handmade.analysis(usable=usable)
    pages = {"report": render_html(made, {}), "sheet": _sheet(made.report), "batch": index_html([])}
    assert {name: _words_of(page).count(LAST_WORD) for name, page in pages.items()} == dict.fromkeys(pages, 1)


def test_no_prompt_on_the_members_page_has_the_last_word_behind_it() -> None:
    report = handmade.analysis().report
    for result in (told.preliminary(report, False), told.released(report, {}, False, "Runa")):
        assert result.prompts
        assert not [p for p in result.prompts if LAST_WORD in results.prompt_html(p, None, result)]


def test_a_member_filmed_unsteadily_is_not_told_that_all_is_well_but_by_the_trainer() -> None:
    report = handmade.analysis().report
    quality = report.quality.model_copy(update={"notes": [TREMBLES]})
    unsteady = report.model_copy(update={"quality": quality})
    assert told.preliminary(report, False).nothing == NOTHING
    assert told.preliminary(unsteady, False).nothing == UNSTEADY
    assert told.released(unsteady, {}, False, "Runa").nothing == NOTHING
    kept = told.preliminary(unsteady, False).to_json()
    assert told.Told.from_json(kept).nothing == UNSTEADY
    assert told.Told.from_json({k: v for k, v in kept.items() if k != "nothing"}).nothing == NOTHING


def test_the_page_talks_of_no_command_line() -> None:
    page = _words_of(render_html(handmade.analysis(), {}))
    screens = [p.read_text(encoding="utf-8") for p in (Path(day.__file__).parent).glob("*.py")]
    for text in [page, *screens]:
        assert not re.search(
            r"plumbset (app|check|batch)|--[a-z]+[ =]|definition of your own|marks pivot", text
        )


def test_the_page_of_words_quotes_prompts_that_are_there() -> None:
    text = (Path(__file__).parents[2] / "docs" / "words.md").read_text(encoding="utf-8")
    quoted = re.findall(r"^\| ([^|]+) \| [^|]+ \|$", text, re.MULTILINE)
    known = {words for name in exercise_names() for words in _said(find_exercise(name))}
    prompts = [words for words in quoted if words.split()[0].strip(":") in DO]
    assert len(prompts) >= 4 and [words for words in prompts if words not in known] == []


@pytest.mark.parametrize(("start_s", "said"), [(4.2, "getting ready, 4 s, not judged"), (0.6, "")])
def test_what_lies_before_the_first_repetition_is_named_and_not_judged(start_s: float, said: str) -> None:
    report = handmade.analysis().report
    first = report.reps[0].model_copy(update={"start_s": start_s})
    assert ready_words(report.model_copy(update={"reps": [first]})) == said
    assert ready_words(report.model_copy(update={"reps": []})) == ""
