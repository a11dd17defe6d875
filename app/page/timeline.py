"""A report as the strip of repetitions beside the clip needs it, and the loops of single repetitions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from app.page.entry import CLIP, MOVING
from app.rules.told import Said, Told, key_of
from shared.report import FindingPart, RepPart, SetReport
from vision.telling.charts import VERDICT_WORDS, worst_verdict

#: Seconds shown before and after a repetition in its loop.
AROUND_S = 0.3


def followed(report: SetReport) -> list[RepPart]:
    """The repetitions that were followed, judged or not."""
    return report.reps or (report.unjudged.reps if report.unjudged else [])


def strip(report: SetReport, said: Mapping[str, Said]) -> dict[str, Any]:
    """Repetitions, flagged moments and moments added; what was called no fault marks nothing any more."""
    reps = followed(report)
    standing = [f for f in report.findings if not _dismissed(f, said)]
    added = [one.time_s for one in said.values() if one.kind == "added" and one.time_s is not None]
    flags = sorted({f.time_s for f in report.flags() if f.time_s is not None and not _dismissed(f, said)})
    return {
        "reps": [_block(rep, standing, reps) for rep in reps],
        "flags": flags,
        "open": flags[0] if flags else reps[0].start_s if reps else 0.0,
        "marks": [{"rep": _rep_of(reps, t), "time": t} for t in added],
    }


def _dismissed(finding: FindingPart, said: Mapping[str, Said]) -> bool:
    one = said.get(key_of(finding))
    return one is not None and one.kind == "no-fault"


def _block(rep: RepPart, findings: Sequence[FindingPart], reps: Sequence[RepPart]) -> dict[str, Any]:
    verdict = worst_verdict(findings, rep.number)
    parts = phases(rep)
    titles = sorted({f.title.lower() for f in findings if f.rep == rep.number and f.verdict == "flag"})
    said = ", ".join([VERDICT_WORDS[verdict], *titles, *(f"{n} {s:.1f} s" for n, s in parts)])
    return {
        "number": rep.number, "start": rep.start_s, "end": _end(rep, reps), "phases": parts,
        "verdict": verdict, "partial": rep.partial, "said": said,
    }  # fmt: skip


def phases(rep: RepPart) -> list[tuple[str, float]]:
    """(phase, seconds) in their order."""
    parts = [("lift", rep.lift_s), ("hold", rep.hold_s), ("lower", rep.lower_s)]
    return parts + ([("rest", rep.rest_s)] if rep.rest_s else [])


def _end(rep: RepPart, reps: Sequence[RepPart]) -> float:
    """Where the block of a repetition ends: its rest belongs to it, and blocks never overlap."""
    after = [r.start_s for r in reps if r.start_s > rep.start_s]
    return min([rep.end_s + (rep.rest_s or 0.0), *after])


def _rep_of(reps: Sequence[RepPart], time_s: float) -> int | None:
    """The repetition at a moment, else the nearest one."""
    if not reps:
        return None
    inside = [r for r in reps if r.start_s <= time_s < _end(r, reps)]
    near = inside or sorted(reps, key=lambda r: min(abs(r.start_s - time_s), abs(r.end_s - time_s)))
    return near[0].number


def loop(rep: RepPart, set_id: int, words: str, drawn: bool) -> dict[str, Any]:
    """One repetition as a loop of its set's clip. drawn: whether limbs can be drawn over it."""
    return {
        "src": f"{CLIP}/{set_id}", "moving": f"{MOVING}/{set_id}" if drawn else "",
        "start": max(0.0, rep.start_s - AROUND_S), "end": rep.end_s + AROUND_S, "words": words,
    }  # fmt: skip


def told_strip(report: SetReport, src: str, told: Told) -> dict[str, Any]:
    """A member's clip: its repetitions, those marked that a prompt speaks of."""
    reps, marked = followed(report), told_reps(told)
    shown = [
        {
            "number": r.number,
            "start": r.start_s,
            "end": _end(r, reps),
            "partial": r.partial,
            "told": r.number in marked,
        }
        for r in reps
    ]
    return {"src": src, "reps": shown}


def told_reps(told: Told) -> set[int]:
    """The repetitions that a member is told something about."""
    return {rep for prompt in told.prompts for rep in prompt.reps}
