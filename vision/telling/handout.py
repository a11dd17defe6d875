"""The one page for the member: one cue, one target for next time, load and settings, room for the trainer."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from shared.exercise import Exercise
from shared.faults import is_own_range
from shared.report import SetReport
from vision.common.cautions import acting_cautions
from vision.common.notices import ASK_MACHINE, TREMBLES
from vision.telling.cues import another_machine, cue_of, headline, main_cue, praise, which
from vision.telling.groups import Group
from vision.telling.words import NOT_CLEARED, count_words, counted_otherwise

#: What stands on the page whether it is known or not: who, when, and the load.
ASKED = ("Name", "Date", "Load")
NOTHING = "Nothing stood out. Carry on like this."
UNSTEADY = "Nothing stood out, as far as this picture shows."
ASK = "Your trainer will go through this set with you."
#: What stands over the two pictures.
GOOD, CHANGE = "Like this", "Change this"
#: What is true of a good repetition where the check has no words for it.
DONE_RIGHT = "Done right"
#: Where no more than half of the repetitions were good, half of them are the next target.
HALF = 0.5
OWN_TARGET = "Next time: stay inside your own limit in every rep."

Facts = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Handout:
    """What stands on it. notice: what comes before all else, such as that this may be another machine.

    cue: the one thing to do; which: the repetitions it is about, or the count; facts: what and value, empty
    to write in; own: what the trainer says, none leaves room to write by hand.
    """

    title: str
    notice: str
    cue: str
    which: str
    seen: str
    praise: str
    target: str
    facts: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    own: tuple[str, ...] = ()

    @property
    def first(self) -> str:
        """What is read first: the cue, else that there is none."""
        return self.cue or self.seen

    @property
    def more(self) -> str:
        """What was seen, where a cue comes before it."""
        return self.seen if self.cue else ""


def handout(report: SetReport, exercise: Exercise, facts: Facts = ()) -> Handout:
    """The hand-out of a set that was judged. facts: what is known of member, day, load and settings.

    What is for the trainer alone does not stand on it; what may be another machine is not coached.
    """
    doubt = another_machine(report)
    main = None if doubt else main_cue(report)
    untold = bool(report.flags() or NOT_CLEARED in report.notices)
    silent = bool(doubt) or (main is None and untold)
    known = dict(facts)
    names = [*ASKED, *(setting.replace("_", " ").capitalize() for setting in exercise.settings)]
    rows = [(name, known.pop(name, "")) for name in names]
    return Handout(
        title=exercise.title,
        notice=f"{doubt.split('. ')[0].rstrip('.')}. {ASK_MACHINE}" if doubt else "",
        cue=f"{cue_of(main.lead.prompt or '')}." if main is not None else "",
        which=f"{_which(report, main, silent)}.",
        seen=_seen(main.lead.prompt or "") if main is not None else ASK if silent else nothing(report),
        praise="" if silent else praise(report),
        target="" if main is None else target(report, main, exercise),
        facts=(*rows, *known.items()),
        cautions=acting_cautions(exercise),
    )


def _which(report: SetReport, main: Group | None, silent: bool) -> str:
    if main is not None:
        return which(report, main.reps)
    return count_words(report) if silent else headline(report)


def nothing(report: SetReport) -> str:
    """What a member reads of a set in which nothing stood out."""
    return UNSTEADY if TREMBLES in report.quality.notes else NOTHING


def _seen(prompt: str) -> str:
    """What a prompt says behind its cue: ``You came forward.``; empty where it says no more."""
    _, _, rest = (re.sub(r"[:.]", "\n", prompt, count=1)).partition("\n")
    rest = rest.strip()
    return rest[:1].upper() + rest[1:]


def target(report: SetReport, main: Group, exercise: Exercise) -> str:
    """One target for next time, of the main cue.

    ``Knees good in 10 of 12 reps. Next time, all 12.``; what is unsure is not good. Short ones count where
    the check judges them: a cue may be about one of them. Without numbers where a trainer counted otherwise
    than the repetitions that were judged; the member's own limit holds for all.
    """
    if is_own_range(main.check):
        return OWN_TARGET
    if all(f.rep is None for f in main.every):
        return "Next time: good form from the first rep to the last."
    spec = next((spec for spec in exercise.checks if spec.id == main.check), None)
    done = spec.good if spec is not None and spec.good else DONE_RIGHT
    found = {f.rep: f.verdict for f in report.findings if f.check == main.check and f.rep is not None}
    every = sum(not rep.partial or rep.number in found for rep in report.reps)
    good, wrong = (sum(v == verdict for v in found.values()) for verdict in ("clear", "flag"))
    if counted_otherwise(report):
        wanted = "every rep" if good > HALF * every else "more of your reps"
        return f"Next time: {done[:1].lower()}{done[1:]} in {wanted}."
    more = every if good > HALF * every else max(good + 1, math.ceil(HALF * every))
    if not good:
        return f"Next time: {done[:1].lower()}{done[1:]} in {more} of {every} reps."
    sure = "" if good + wrong == every else "at least "
    wanted = f"all {more}" if more == every else f"{more}"
    return f"{done} in {sure}{good} of {every} reps. Next time, {wanted}."
