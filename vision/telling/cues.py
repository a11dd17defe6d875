"""What to say of a set: the verdict in one line, one cue and at most one more, and the best repetition."""

from __future__ import annotations

import re
from collections.abc import Sequence
from statistics import median

from shared.faults import is_fact
from shared.report import RepPart, SetReport
from vision.common.notices import LOOKS_LIKE, TREMBLES
from vision.common.quantities import listed
from vision.judging.evidence import VIEW
from vision.telling.groups import Group, groups
from vision.telling.words import NOT_CLEARED, count_words, counted_otherwise

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


def another_machine(report: SetReport) -> str:
    """The notice that the clip may be of another machine than the one named; empty without one."""
    return next((notice for notice in report.notices if notice.startswith(LOOKS_LIKE)), "")


def headline(report: SetReport) -> str:
    """The verdict in one line: fit or not, the one thing to work on, and in which repetitions."""
    if not report.quality.usable:
        return "This clip is not fit to judge"
    done, flags, told = count_words(report), groups(report, None, "flag"), main_cue(report)
    if another_machine(report):
        return f"{done}. Make sure of the machine first"
    if told is not None:
        return one_thing(report, told.lead.prompt or "", told.reps)
    if flags:
        return f"For the trainer to see: {flags[0].title.lower()}. {which(report, flags[0].reps)}"
    return f"{done}, nothing flagged"


def one_thing(report: SetReport, prompt: str, reps: Sequence[int]) -> str:
    """``Stop just short of locking your knees. Reps 4 and 9 of 12``."""
    return f"{cue_of(prompt)}. {which(report, reps)}"


def cue_of(prompt: str) -> str:
    """The cue of a prompt, without what was seen: ``Keep your chest tall``."""
    return re.split(r"[:.]", prompt)[0].strip()


def which(report: SetReport, reps: Sequence[int]) -> str:
    """``Reps 4 and 9 of 12``, ``9 of 12 reps`` where they are many, ``12 reps`` for the whole set.

    Where some were too short to count they have a number too: ``Reps 4 and 9 of 13 (12 full, 1 short)``.
    ``Many of the 11 reps`` where a trainer counted otherwise, or ``Reps 6 and 11; your trainer counted 11``.
    """
    done, short = count_words(report), sum(rep.partial for rep in report.reps)
    if not reps:
        return done
    total, many = (report.count or 0) + short, len(reps) > MOST_NAMED
    named = f"{'Rep' if len(reps) == 1 else 'Reps'} {listed([str(rep) for rep in reps])}"
    if counted_otherwise(report):
        return f"Many of the {done}" if many else f"{named}; your trainer counted {report.count}"
    said = f"{len(reps)} of {total} reps" if many else f"{named} of {total}"
    return f"{said} ({done})" if short else said


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
    """The best repetition by its number; empty where none is, or nothing was judged.

    A set is called good only where nothing is left to watch and the picture was steady.
    """
    told_to_the_trainer_alone = NOT_CLEARED in report.notices or (report.flags() and not cues(report))
    if told_to_the_trainer_alone:
        return ""
    best = best_rep(report)
    if best is None:
        return ""
    doubts = [f for f in report.findings if f.verdict in ("flag", "watch") and not is_fact(f.check)]
    if doubts or TREMBLES in report.quality.notes:
        return f"Rep {best.number} was your best: make them all like it."
    return f"Good set. Make them all like rep {best.number}."
