"""What to say of a set: the verdict in one line, one cue and at most one more, and the best repetition."""

from __future__ import annotations

import re
from collections.abc import Sequence
from statistics import median

from shared.report import RepPart, SetReport
from vision.telling.groups import VIEW, Group, groups
from vision.telling.words import count_words

#: So many cues a member is told of one set, whatever was flagged. Common practice, no published source.
MOST_CUES = 2
#: More repetitions than these are told by their number alone.
MOST_NAMED = 5


def cues(report: SetReport) -> list[Group]:
    """The flagged faults that a member is told of, the main one first."""
    return [group for group in groups(report, None, "flag") if group.lead.prompt][:MOST_CUES]


def main_cue(report: SetReport) -> Group | None:
    """The one fault that a member works on; None where they are told of none."""
    return next(iter(cues(report)), None)


def headline(report: SetReport) -> str:
    """The verdict in one line: fit or not, the count, and the one thing to work on."""
    if not report.quality.usable:
        return "This clip is not fit to judge"
    done, flags = count_words(report), groups(report, None, "flag")
    told = cues(report)
    if told:
        return one_thing(done, told[0].lead.prompt or "", told[0].reps)
    if flags:
        return f"{done}. For the trainer to see: {flags[0].title.lower()}{which(flags[0].reps)}"
    return f"{done}, nothing flagged"


def one_thing(done: str, prompt: str, reps: Sequence[int]) -> str:
    """``12 reps. Work on one thing: stop just short of locking out your knees (4, 9)``."""
    return f"{done}. Work on one thing: {cue_of(prompt)}{which(reps)}"


def cue_of(prompt: str) -> str:
    """The cue of a prompt, without what was seen: ``keep your chest tall``."""
    cue = re.split(r"[:.]", prompt)[0].strip()
    return cue[:1].lower() + cue[1:]


def which(reps: Sequence[int]) -> str:
    """`` (4, 9)``, `` (9 reps)`` where they are many, and nothing for the whole set."""
    if not reps:
        return ""
    return f" ({', '.join(map(str, reps))})" if len(reps) <= MOST_NAMED else f" ({len(reps)} reps)"


def best_rep(report: SetReport) -> RepPart | None:
    """The best repetition of a set: whole, nothing flagged or to watch, best seen, of the usual length."""
    bad = {f.rep for f in report.findings if f.verdict in ("flag", "watch")}
    good = [r for r in report.reps if not r.partial and r.number not in bad]
    if not good:
        return None
    usual = median(r.end_s - r.start_s for r in good)
    hidden = [f.rep for f in report.findings if f.verdict == "cannot-tell" and f.reason_code != VIEW]
    return min(good, key=lambda r: (hidden.count(r.number), abs(r.end_s - r.start_s - usual)))


def praise(report: SetReport) -> str:
    """The best repetition by its name; empty where none is, or nothing was judged."""
    if report.flags() and not cues(report):  # told to the trainer alone
        return ""
    best = best_rep(report)
    return f"Repetition {best.number} was your best: do them all like it." if best is not None else ""
