"""The one page for the member: one cue, one target for next time, load and settings, room for the trainer."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from shared.exercise import Exercise
from shared.report import SetReport
from vision.common.prompts import TREMBLES
from vision.telling.cues import headline, main_cue, praise
from vision.telling.groups import Group
from vision.telling.words import NOT_CLEARED, count_words

#: What stands on the page whether it is known or not: who, when, and the load.
ASKED = ("Name", "Date", "Load")
NOTHING = "Nothing to change. Keep your rhythm."
UNSTEADY = "Nothing stood out, as far as this picture shows."
ASK = "Your trainer goes through this set with you."
#: What stands over the two pictures.
GOOD, CHANGE = "Like this", "Change this"
#: Where no more than half of the repetitions were good, half of them are the next target.
HALF = 0.5

Facts = Sequence[tuple[str, str]]


@dataclass(frozen=True)
class Handout:
    """What stands on it. opening, cue: the headline's two parts; facts: what and value, empty to write in."""

    title: str
    opening: str
    cue: str
    seen: str
    praise: str
    target: str
    facts: tuple[tuple[str, str], ...]


def handout(report: SetReport, exercise: Exercise, facts: Facts = ()) -> Handout:
    """The hand-out of a set that was judged. facts: what is known of member, day, load and settings.

    What is for the trainer alone does not stand on it.
    """
    main = main_cue(report)
    silent = main is None and bool(report.flags() or NOT_CLEARED in report.notices)
    opening, _, cue = (count_words(report) if silent else headline(report)).partition(": ")
    known = dict(facts)
    names = [*ASKED, *(setting.replace("_", " ").capitalize() for setting in exercise.settings)]
    rows = [(name, known.pop(name, "")) for name in names]
    return Handout(
        title=exercise.title,
        opening=f"{opening}:" if cue else f"{opening}.",
        cue=f"{cue[:1].upper()}{cue[1:]}." if cue else "",
        seen=_seen(main.lead.prompt or "") if main is not None else ASK if silent else nothing(report),
        praise="" if silent else praise(report),
        target="" if silent else target(report),
        facts=(*rows, *known.items()),
    )


def nothing(report: SetReport) -> str:
    """What a member reads of a set in which nothing stood out."""
    return UNSTEADY if TREMBLES in report.quality.notes else NOTHING


def _seen(prompt: str) -> str:
    """What a prompt says behind its cue: ``You came forward.``; empty where it says no more."""
    _, _, rest = (re.sub(r"[:.]", "\n", prompt, count=1)).partition("\n")
    rest = rest.strip()
    return rest[:1].upper() + rest[1:]


def target(report: SetReport) -> str:
    """One target for next time, of the main cue; empty where the trainer alone can say it."""
    main = main_cue(report)
    if main is None:
        return "" if report.flags() or not report.count else f"Next time: {report.count} reps like these."
    if all(f.rep is None for f in main.every):
        return "Next time: keep it up from the first rep to the last."
    return _of_reps(report, main)


def _of_reps(report: SetReport, main: Group) -> str:
    """``You got it right in 10 of 12 reps. Next time: aim for all 12.``; what is unsure is not right."""
    full = {rep.number for rep in report.reps if not rep.partial}
    found = {f.rep: f.verdict for f in report.findings if f.check == main.check and f.rep in full}
    good, wrong = (sum(v == verdict for v in found.values()) for verdict in ("clear", "flag"))
    sure = "" if good + wrong == len(full) else "at least "
    said = f"You got it right in {sure}{good} of {len(full)} reps. Next time: aim for"
    if good > HALF * len(full):
        return f"{said} all {len(full)}."
    more = max(good + 1, math.ceil(HALF * len(full)))
    return f"{said} {more}." if good else f"Next time: get it right in {more} of {len(full)} reps."
