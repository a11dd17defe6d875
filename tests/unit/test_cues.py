"""One thing at a time: which fault is spoken of first, what is one fault, and what a view can never show."""

from __future__ import annotations

import pytest

from app.page.cards import card as shown_card
from app.rules import told
from app.rules.room import Room
from app.rules.told import Said
from app.rules.worry import worry_of
from shared.exercise import find_exercise
from shared.report import FindingPart, SetReport
from tests.samples import checked
from tests.unit import handmade
from vision.common.notices import LOOKS_LIKE
from vision.telling.charts import worst_verdict
from vision.telling.cues import MOST_CUES, best_rep, cue_of, cues, headline, praise, which
from vision.telling.groups import groups, unseen
from vision.telling.words import NOT_CLEARED

PRESS = find_exercise("shoulder-press")
MADE = handmade.analysis().report


def _flag(check: str, rep: int | None, verdict: str = "flag", prompt: str | None = "") -> FindingPart:
    spec = PRESS.check(check)
    words = (spec.prompt or "").split("[")[0] if prompt == "" else prompt
    return FindingPart.model_validate(
        {"check": check, "rep": rep, "time_s": 9.0, "frame": 1, "verdict": verdict, "measured": 9.0,
         "uncertainty": 1.0, "limit": 4.0, "unit": spec.unit, "prompt": words or None, "title": spec.title}
    )  # fmt: skip


def _report(*findings: FindingPart) -> SetReport:
    return MADE.model_copy(update={"findings": list(findings), "exercise": "shoulder-press"})


SLIDE = [_flag("hip-slide", rep) for rep in (11, 12, 13)]
ONE_SLIDE = _report(*SLIDE, _flag("creep", None), _flag("late-fade-posture", None))
EVERYTHING = _report(
    _flag("rep-target", None), _flag("too-fast", 3), _flag("dropped-load", 5), _flag("elbow-lockout", 7),
    *SLIDE, _flag("creep", None), _flag("shrug", 2),
)  # fmt: skip


def test_whatever_was_flagged_a_member_is_told_one_thing_and_at_most_one_more() -> None:
    assert [group.check for group in cues(EVERYTHING)] == ["hip-slide", "elbow-lockout"]
    assert [prompt.check for prompt in told.tool_prompts(EVERYTHING)] == ["hip-slide", "elbow-lockout"]
    assert headline(EVERYTHING) == (
        "Keep your hips back against the pad. Reps 11, 12 and 13 of 13 (12 full, 1 short)"
    )


def test_a_trainer_reads_of_as_many_faults_as_there_are_cards() -> None:
    assert (
        worry_of(ONE_SLIDE, "checked", pain=False).words == "Hips sliding forward: repetitions 11, 12 and 13"
    )
    assert worry_of(EVERYTHING, "checked", pain=False).words.endswith(", and 4 more faults")


def test_a_count_off_target_never_comes_before_a_posture() -> None:
    two = _report(_flag("rep-target", None, prompt="Stop at twelve."), _flag("head-drop", 4))
    assert [group.check for group in cues(two)] == ["head-drop", "rep-target"]


def test_three_sights_of_one_slide_are_one_card_with_three_facts() -> None:
    (card,) = groups(ONE_SLIDE, PRESS, "flag")
    assert [card.check, *(other.check for other in card.also)] == ["hip-slide", "creep", "late-fade-posture"]
    shown = " ".join([card.title, *shown_card(card, {}, Room(()))["numbers"]])
    assert all(title in shown for title in ("Hips sliding", "Hips creeping", "Posture going at the end"))
    assert len(told.tool_prompts(ONE_SLIDE)) == 1
    assert len(ONE_SLIDE.flags()) == 5, "each check stays in the report"


def test_a_posture_that_goes_at_the_end_is_told_with_what_went_there() -> None:
    early_slide = _flag("hip-slide", 2)
    said = _report(
        early_slide, _flag("chest-drop", 12), _flag("chest-drop", 13), _flag("late-fade-posture", None)
    )
    by_check = {group.check: [other.check for other in group.also] for group in groups(said, PRESS, "flag")}
    assert by_check == {"hip-slide": [], "chest-drop": ["late-fade-posture"]}


def test_a_slide_called_no_fault_leaves_what_else_was_seen_of_it() -> None:
    dismissed = {told.key_of(f): Said("no-fault") for f in SLIDE}
    assert [p.check for p in told.decided_prompts(ONE_SLIDE, dismissed)] == ["creep"]


def test_the_trainers_own_words_are_all_told_and_the_main_cue_beside_them() -> None:
    own = {f"added:{n}": Said("added", f"Word {n}.", float(n)) for n in range(1, 4)}
    said = told.decided_prompts(EVERYTHING, own)
    assert [p.words for p in said if p.origin == "added"] == ["Word 1.", "Word 2.", "Word 3."]
    assert [p.check for p in said if p.origin != "added"] == ["hip-slide"]


def test_what_the_trainer_agreed_with_is_told_before_what_was_left_open() -> None:
    agreed = {told.key_of(f): Said("agree") for f in EVERYTHING.findings if f.check in ("shrug", "too-fast")}
    assert [p.check for p in told.decided_prompts(EVERYTHING, agreed)] == ["shrug", "too-fast"]
    assert MOST_CUES == 2


def test_faults_without_a_prompt_are_for_the_trainer_and_nobody_is_praised_over_them() -> None:
    short = _report(_flag("short-range", 10))
    assert headline(short) == "For the trainer to see: short range. Rep 10 of 13 (12 full, 1 short)"
    assert praise(short) == ""


def test_nobody_is_praised_on_a_machine_that_they_were_not_cleared_for() -> None:
    assert praise(_report()) != "" == praise(_report().model_copy(update={"notices": [NOT_CLEARED]}))


@pytest.mark.parametrize(
    ("prompt", "cue"),
    [
        ("Keep your ribs down: you arched your back.", "Keep your ribs down"),
        ("Stop just short of locking your elbows.", "Stop just short of locking your elbows"),
        ("Slow down: give yourself a full second each way. Your quicker half took 0.6 seconds.", "Slow down"),
    ],
)
def test_a_cue_is_what_stands_before_what_was_seen(prompt: str, cue: str) -> None:
    assert cue_of(prompt) == cue


def test_the_best_repetition_is_praised_by_name_and_is_none_that_was_hidden() -> None:
    best = best_rep(MADE)
    assert best is not None and praise(MADE) == f"Rep {best.number} was your best: make them all like it."
    hidden = _flag("shrug", best.number, "cannot-tell").model_copy(update={"reason_code": "limb-hidden"})
    other = best_rep(MADE.model_copy(update={"findings": [*MADE.findings, hidden]}))
    assert other is not None and other.number != best.number


def test_what_a_view_cannot_show_is_told_once_and_marks_no_repetition() -> None:
    report = checked("shoulder-press-faulty-front")[0].report
    told_once = unseen(report)
    assert len(told_once) == 1 and told_once[0].endswith("film from the side.")
    assert told_once[0].count("leaning back") + told_once[0].count("arching the back") == 1
    assert not groups(report, PRESS, "cannot-tell")
    assert worst_verdict(report.findings, 1) == "clear"


def test_each_repetition_of_a_card_says_its_own_reason() -> None:
    step = "10 degrees straighter than other repetitions of this set"
    within = _flag("elbow-lockout", 5).model_copy(update={"measured": 3.0, "reason": step})
    (card,) = groups(_report(_flag("elbow-lockout", 3), within), PRESS, "flag")
    assert [step in line for line in shown_card(card, {}, Room(()))["numbers"][-2:]] == [False, True]


def test_the_likeliest_repetition_leads_not_the_one_farthest_from_a_limit_that_it_keeps() -> None:
    within, beyond = (
        _flag("elbow-lockout", rep, verdict).model_copy(
            update={"measured": measured, "limit": 172.0, "probability": likely}
        )
        for rep, verdict, measured, likely in ((3, "watch", 170.0, 0.40), (7, "watch", 173.0, 0.74))
    )
    (card,) = groups(_report(within, beyond), PRESS, "watch")
    assert [f.rep for f in card.findings] == [7, 3]
    flags = [f.model_copy(update={"verdict": "flag", "prompt": "Stop sooner."}) for f in (within, beyond)]
    (prompt,) = told.tool_prompts(_report(*flags))
    assert prompt.picture == "elbow-lockout:7"


def test_without_a_probability_what_lies_farthest_past_its_limit_leads() -> None:
    far = _flag("shrug", 9).model_copy(update={"measured": 12.0})
    (card,) = groups(_report(_flag("shrug", 2), far), PRESS, "flag")
    assert card.lead.rep == 9


@pytest.mark.parametrize(
    ("count", "reps", "said"),
    [
        (12, [4], "Rep 4 of 12"),
        (12, [4, 9], "Reps 4 and 9 of 12"),
        (12, [1, 2, 3, 4, 5, 6], "6 of 12 reps"),
        (12, [], "12 reps"),
        (11, [4, 11], "Reps 4 and 11; your trainer counted 11"),
        (13, [4], "Rep 4; your trainer counted 13"),
    ],
    ids=["one", "two", "many", "the whole set", "the trainer counted fewer", "the trainer counted more"],
)
def test_where_a_cue_holds_is_said_in_plain_words(count: int, reps: list[int], said: str) -> None:
    whole = [rep for rep in MADE.reps if not rep.partial]
    assert which(MADE.model_copy(update={"count": count, "reps": whole}), reps) == said


def test_a_set_that_may_be_of_another_machine_has_no_cue_for_a_headline() -> None:
    doubted = MADE.model_copy(update={"notices": [f"{LOOKS_LIKE} chest press, not like leg extension."]})
    assert headline(doubted) == "12 full, 1 short. Make sure of the machine first"


def test_a_pace_that_this_side_cannot_judge_is_told_as_a_rough_guess_and_not_as_even() -> None:
    report = checked("chest-fly-faulty-side")[0].report
    assert report.tempo is not None
    assert report.tempo.sentence == "About 1.5 s in and 2 s back, a rough guess from this side."
    assert any("cannot be judged from here" in one for one in unseen(report))
