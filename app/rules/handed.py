"""The hand-out as a trainer decided: what was called no fault is gone, what they said is in their words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from app.rules.other_machine import MACHINE
from app.rules.told import Prompt, Said, Told, cleared, decided_prompts, key_of, own_words
from shared.exercise import Exercise
from shared.faults import order_of
from shared.report import FindingPart, SetReport
from vision.telling.cues import another_machine, headline, main_cue, which
from vision.telling.handout import Facts, Handout, handout
from vision.telling.words import count_words

#: What a trainer does that makes the hand-out of the check untrue.
_CHANGES = ("no-fault", "reword", "added", "note")


def as_checked(report: SetReport, content: Told, said: Mapping[str, Said]) -> bool:
    """Whether the hand-out that came with the check says what the trainer decided, of the machine too."""
    if MACHINE in said or any(
        one.kind in _CHANGES and (one.words or one.kind == "no-fault") for one in said.values()
    ):
        return False
    main, first = main_cue(report), next(iter(content.prompts), None)
    return (main.check if main else "") == (first.check if first else "") and report.count == content.count


def as_decided(report: SetReport, said: Mapping[str, Said], main: Prompt | None) -> SetReport:
    """The report with its findings as the trainer sees them. main: the first prompt that is a check's."""
    found = []
    for finding in cleared(report, said).findings:
        one = said.get(key_of(finding))
        if one is not None and one.kind == "reword":
            finding = finding.model_copy(update={"verdict": "flag", "prompt": one.words})
        found.append(_told_after(finding, main))
    return report.model_copy(update={"findings": found})


def _told_after(finding: FindingPart, main: Prompt | None) -> FindingPart:
    """A finding in the words of the main prompt where it is of that check, and never told before it."""
    if main is None or finding.verdict != "flag":
        return finding
    if finding.check == main.check:
        return finding.model_copy(update={"prompt": main.words})
    before = order_of(finding.check) < order_of(main.check)
    return finding.model_copy(update={"verdict": "watch"}) if before else finding


def handed(
    report: SetReport, exercise: Exercise, content: Told, said: Mapping[str, Said], facts: Facts
) -> Handout:
    """The hand-out. report: counted as the trainer did; content: what the member reads of the set."""
    main = next((one for one in content.prompts if one.check), None)
    theirs = [p.words for p in content.prompts if p is not main and p.origin in ("reworded", "added")]
    own = tuple(words for words in (content.note, *theirs) if words)
    page = replace(handout(as_decided(report, said, main), exercise, facts), own=own)
    if not own_words(said):
        return page
    page = replace(page, praise="")
    return page if page.cue else replace(page, seen="", which=f"{count_words(report)}.")


def in_one_line(report: SetReport, said: Mapping[str, Said]) -> str:
    """The verdict in one line for the trainer, after what they decided: a flag called no fault is gone."""
    left = cleared(report, said)
    if not report.quality.usable or another_machine(report):
        return headline(report)
    main = next(iter(decided_prompts(report, said)), None)
    if main is not None and main.origin == "reworded":
        return f"{main.words.rstrip('. ')}. {which(left, main.reps)}"
    if report.flags() and not left.flags():
        return f"{count_words(report)}. All that was flagged was called no fault"
    return headline(left)
