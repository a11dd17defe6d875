"""The hand-out as a trainer decided: what was called no fault is gone, what they said is in their words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from app.rules.told import Prompt, Said, Told, key_of
from shared.exercise import Exercise
from shared.report import SetReport
from vision.telling.cues import cue_of, main_cue, which
from vision.telling.handout import Facts, Handout, handout, said_behind

#: What a trainer does that makes the hand-out of the check untrue.
_CHANGES = ("no-fault", "reword", "added", "note")


def as_checked(report: SetReport, content: Told, said: Mapping[str, Said]) -> bool:
    """Whether the hand-out that came with the check says what the trainer decided."""
    if any(one.kind in _CHANGES and (one.words or one.kind == "no-fault") for one in said.values()):
        return False
    main, first = main_cue(report), next(iter(content.prompts), None)
    return (main.check if main else "") == (first.check if first else "") and report.count == content.count


def as_decided(report: SetReport, said: Mapping[str, Said]) -> SetReport:
    """The report with its findings as the trainer sees them."""
    found = []
    for finding in report.findings:
        one = said.get(key_of(finding))
        if one is not None and one.kind == "no-fault":
            finding = finding.model_copy(update={"verdict": "clear", "prompt": None})
        elif one is not None and one.kind == "reword":
            finding = finding.model_copy(update={"verdict": "flag", "prompt": one.words})
        found.append(finding)
    return report.model_copy(update={"findings": found})


def handed(
    report: SetReport, exercise: Exercise, content: Told, said: Mapping[str, Said], facts: Facts
) -> Handout:
    """The hand-out. report: counted as the trainer did; content: what the member reads of the set."""
    decided = as_decided(report, said)
    page = handout(decided, exercise, facts)
    main = next((one for one in content.prompts if one.check), None)
    theirs = [p.words for p in content.prompts if p is not main and p.origin in ("reworded", "added")]
    own = tuple(words for words in (content.note, *theirs) if words)
    if main is None:
        nothing = "" if theirs else page.seen
        return replace(page, seen=nothing, target="" if theirs else page.target, own=own)
    first = main_cue(decided)
    return replace(
        page, cue=_cue(main), which=f"{which(decided, main.reps)}.", seen=_behind(main),
        target=page.target if first is not None and first.check == main.check else "", own=own,
    )  # fmt: skip


def _cue(main: Prompt) -> str:
    """What a trainer wrote stands as they wrote it."""
    return main.words if main.origin == "reworded" else f"{cue_of(main.words)}."


def _behind(main: Prompt) -> str:
    return "" if main.origin == "reworded" else said_behind(main.words)
