"""A limit of the member's own, as a clinician gives one: after pain the first that anybody reads of a set."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from app.page.sheet import sheet_content
from app.rules import told
from app.rules.card_limit import CardLimit
from app.rules.handed import handed
from app.rules.inside_limit import inside
from app.rules.told import Prompt, Said, released
from app.rules.worry import PAIN, worry_of
from app.views import parts
from shared.exercise import find_exercise
from shared.own_range import Range
from shared.report import FindingPart, SetReport
from tests.page.screens import Open, read
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report
from vision.telling.cues import headline, main_cue

LEG = find_exercise("leg-extension")
OWN = "own-range-max"
CUE = "Stop sooner"
MADE = report()
(CHEST,) = [f for f in MADE.flags() if f.check == "chest-drop"]


def _past(verdict: str = "flag") -> list[FindingPart]:
    """Every full repetition past the limit."""
    prompt = f"{CUE}: it went past your limit." if verdict == "flag" else None
    new = {"check": OWN, "title": "Past the limit", "limit": 150.0, "verdict": verdict, "prompt": prompt}
    return [
        f.model_copy(update=new) for f in MADE.findings if f.check == "knee-lockout" and f.rep in range(1, 13)
    ]


def _flag(check: str) -> FindingPart:
    return CHEST.model_copy(update={"check": check, "title": check, "verdict": "flag", "prompt": f"{check}."})


def _set(*findings: FindingPart) -> SetReport:
    return MADE.model_copy(update={"findings": list(findings)})


#: Past the limit in every repetition, and two faults that worry as much as any.
LIMITED = _set(_flag("hands-behind"), _flag("lean-back"), *_past())


def test_past_the_limit_comes_before_every_posture_for_member_and_trainer() -> None:
    main = main_cue(LIMITED)
    assert main is not None and main.check == OWN and headline(LIMITED).startswith(CUE)
    found = worry_of(LIMITED, "checked", False)
    assert found.rank == PAIN + 1 and found.words.startswith("Past the limit")
    content = released(LIMITED, {}, False, "Runa")
    assert content.headline.startswith(CUE)
    assert [p.check for p in content.prompts] == [OWN, "hands-behind"]
    page = handed(LIMITED, LEG, content, {}, ())
    assert page.cue == f"{CUE}." and page.target == "Next time: stay inside your own limit in every rep."


def test_what_may_be_past_the_limit_is_named_first() -> None:
    watched = _set(_flag("lean-back").model_copy(update={"verdict": "watch"}), *_past("watch"))
    assert worry_of(watched, "checked", False).words == "To watch: past the limit, lean-back"


@pytest.mark.parametrize(
    "said",
    [
        {"lean-back:11": Said("agree"), "added:1": Said("added", "Feet flat.", time_s=3.0)},
        {"lean-back:11": Said("reword", "Sit back."), "hands-behind:11": Said("reword", "Hands level.")},
        {f"added:{n}": Said("added", "Feet flat.", time_s=3.0) for n in (1, 2, 3)},
    ],
    ids=["another agreed to and words", "two reworded", "three of their own"],
)
def test_no_other_decision_crowds_the_limit_out(said: dict[str, Said]) -> None:
    assert told.decided_prompts(LIMITED, said)[0].check == OWN


def test_only_the_trainer_takes_the_limit_out() -> None:
    none = {f"{OWN}:{n}": Said("no-fault") for n in range(1, 13)}
    assert OWN not in [p.check for p in told.decided_prompts(LIMITED, none)]


def test_waiting_and_today_begin_with_the_limit(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parts, "today_utc", lambda: datetime(2026, 3, 2, 12, tzinfo=UTC))
    new_set(studio.ilse)
    set_id = check(studio.database, studio.files, LIMITED)
    assert "Past the limit" in read(open_page(studio.trainer, "waiting"))
    studio.trainer.release(set_id)
    today = read(open_page(studio.ilse, "today"))
    assert today.index(CUE) < today.index("hands-behind.")


LIMIT = "Stay inside your limit: left knee no straighter than 150 degrees."
LOCKED = next(p for p in told.tool_prompts(MADE) if p.check == "knee-lockout")
KNEE = CardLimit(left=Range(at_most=150.0))


@pytest.mark.parametrize(
    ("prompt", "limit", "words"),
    [
        (LOCKED, KNEE, LIMIT),
        (LOCKED, CardLimit(), LOCKED.words),
        (LOCKED, CardLimit(left=Range(at_least=80.0)), LOCKED.words),
        (replace(LOCKED, origin="reworded", words="Soft knees."), KNEE, f"Soft knees. {LIMIT}"),
        (replace(LOCKED, check="chest-drop"), KNEE, LOCKED.words),
        (replace(LOCKED, check=OWN, words="Past 150 degrees."), KNEE, "Past 150 degrees."),
        (replace(LOCKED, check=OWN, words="Past 160 degrees."), KNEE, LIMIT),
    ],
    ids=["no straighter", "no limit", "the other end", "reworded", "another fault", "now", "before"],
)
def test_no_older_cue_breaks_a_limit_that_the_card_has_now(
    prompt: Prompt, limit: CardLimit, words: str
) -> None:
    assert inside(prompt, limit, LEG).words == words


@pytest.mark.parametrize("where", ["today", "sheet"])
def test_a_set_from_before_the_limit_tells_the_limit_once_and_first(studio: Studio, where: str) -> None:
    ilse = studio.ilse.actor.id
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, _set(_flag("lean-back"), *MADE.flags()))
    studio.trainer.release(set_id)
    assert LOCKED.words in str(studio.ilse.told(set_id).prompts)
    studio.trainer.save_card(ilse, LEG.name, left_at_most_deg=150.0)
    if where == "today":
        said = [line.words for line in studio.ilse.next_work(ilse, DAY)]
    else:
        said = [words for _, words in sheet_content(studio.trainer, studio.ilse.me())["prompts"]]
    assert said == [LIMIT, "lean-back."]


def test_a_member_reads_that_the_other_knees_limit_was_not_checked(studio: Studio, open_page: Open) -> None:
    hidden = CHEST.model_copy(
        update={
            "check": "own-range-left", "title": "The left knee's own limit", "verdict": "cannot-tell",
            "rep": None, "prompt": None, "reason_code": "view",
        }
    )  # fmt: skip
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, _set(hidden))
    said = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert "own limit was not checked" in said and "Film your next set from the left." in said
