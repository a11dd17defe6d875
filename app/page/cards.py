"""The cards of a review as its desk shows them: cue first, numbers on demand, what was decided of each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from app.rules.room import Room
from app.rules.told import Prompt, Said, key_of
from shared.exercise import Exercise
from shared.report import FindingPart, SetReport
from vision.telling.groups import Group, groups
from vision.telling.words import measured_words, reps_words

#: What a trainer says of a finding; anything else leaves it open.
DECIDED = ("agree", "reword", "no-fault")


def cards(
    report: SetReport,
    exercise: Exercise | None,
    said: Mapping[str, Said],
    pictures: Mapping[str, str],
    room: Room,
) -> list[dict[str, Any]]:
    """Flags, then what is to be watched, each in the order of worry, lengths in the room's unit.

    pictures: addresses by finding.
    """
    found = [*groups(report, exercise, "flag"), *groups(report, exercise, "watch")]
    return [card(group, said, room, pictures.get(key_of(group.lead), "")) for group in found]


def card(group: Group, said: Mapping[str, Said], room: Room, picture: str = "") -> dict[str, Any]:
    """One card: what to say, which repetitions, what was decided, and the numbers behind it."""
    ordered = sorted(group.every, key=lambda f: f.rep or 0)
    return {
        "id": f"{group.verdict}-{group.check}", "verdict": group.verdict, "title": group.title,
        "which": group.which, "cue": group.lead.prompt or "", "measured": room.lengths(group.measured),
        "time": group.lead.time_s, "points": group.lead.points, "picture": picture,
        "findings": [_finding(f, said) for f in ordered],
        "numbers": [room.lengths(line) for line in _numbers(group, ordered)],
    }  # fmt: skip


def _finding(finding: FindingPart, said: Mapping[str, Said]) -> dict[str, Any]:
    one = said.get(key_of(finding))
    decided = {"kind": one.kind, "words": one.words} if one is not None and one.kind in DECIDED else None
    value = finding.measured if finding.unit == "deg" else None
    return {
        "key": key_of(finding), "rep": finding.rep, "time": finding.time_s, "said": decided, "value": value
    }  # fmt: skip


def _numbers(group: Group, ordered: Sequence[FindingPart]) -> list[str]:
    lead = group.lead
    where = "over the whole set" if lead.rep is None else f"repetition {lead.rep}"
    when = f" at {lead.time_s:.1f} s" if lead.time_s is not None else ""
    clearest = f", the clearest of {len(group.findings)}" if len(group.findings) > 1 else ""
    lines = [f"{group.measured}: {where}{when}{clearest}. Limit: {group.limit}."]
    lines += [f"{fact}." for fact in group.facts]
    lines += [f"{lead.reason[0].upper()}{lead.reason[1:]}."] if lead.reason else []
    if len(group.findings) > 1:
        lines += [_of_rep(f, lead) for f in ordered if f.rep is not None]
    return lines


def _of_rep(finding: FindingPart, lead: FindingPart) -> str:
    why = f"; {finding.reason}" if finding.reason not in (None, lead.reason) else ""
    return f"Rep {finding.rep}: {measured_words(finding)}{why}"


def cannot_tell(report: SetReport, exercise: Exercise | None) -> tuple[str, list[str]]:
    """What cannot be told from the clip: one line of titles, and a line a reason; empty where all can."""
    found = groups(report, exercise, "cannot-tell")
    titles = ", ".join(f"{g.title.lower()} ({g.which})" for g in found)
    reasons = [
        f"{group.title}: {reason}"
        for group in found
        for reason in dict.fromkeys(f.reason or group.cannot_tell for f in group.findings)
    ]
    return titles, reasons


def reads(prompts: Sequence[Prompt]) -> list[dict[str, str]]:
    """The prompts as the member reads them, for a last look before handing over."""
    return [{"which": _which(p), "words": p.words} for p in prompts]


def _which(prompt: Prompt) -> str:
    return f"{prompt.title}, {reps_words(list(prompt.reps))}" if prompt.reps else prompt.title


def added(said: Mapping[str, Said]) -> list[dict[str, Any]]:
    """What a trainer added, with its moment (s) and the place it points at."""
    return [
        {"key": key, "time": one.time_s or 0.0, "words": one.words, "place": one.place}
        for key, one in said.items()
        if one.kind == "added"
    ]
