"""Tempo of one set against the usual, over the weeks and beside another set, as numbers and sentences."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import mean, median

import numpy as np

from app.rules.history import KG_PER_LB
from app.rules.stack import IN_PINS
from app.rules.words import date_words
from shared.exercise import Motion
from shared.report import RepPart, SetReport
from vision.measuring.reps.tempo import detrended_cv, even_word
from vision.telling.asked_tempo import AS_ASKED
from vision.telling.words import counted

#: Fewer repetitions than this have no fade: the halves would be too small.
FEWEST = 6
#: So many sets before and after are compared, each side by its median.
COMPARED = 3
#: A way has changed where it differs by this share and by so many seconds: common practice, no published
#: source.
CHANGED, CHANGED_S = 0.1, 0.2
#: Phases that differ by less than what is shown are alike.
ALIKE_S = 0.1


@dataclass(frozen=True)
class SetTempo:
    """One set: seconds of its counted repetitions, each way and in all without rests; range in degrees."""

    set_id: int
    day: date
    load: float | None
    unit: str
    lifts: tuple[float, ...]
    lowers: tuple[float, ...]
    seconds: tuple[float, ...]
    range_deg: float
    flags: int

    @property
    def in_pins(self) -> bool:
        """Whether the load names a place on the stack, which compares with its like alone."""
        return self.unit in IN_PINS

    @property
    def weight(self) -> float:
        """The load in kg, or its place on the stack; 0 where it was not told."""
        return (self.load or 0.0) * (KG_PER_LB if self.unit == "lb" else 1.0)

    @property
    def usual(self) -> float:
        """The median repetition."""
        return median(self.seconds)

    @property
    def cv_percent(self) -> float | None:
        """How far repetitions differ in length, without a steady slowing, in % of their mean.

        The report's own figure; None with too few of them.
        """
        found = detrended_cv(np.array(self.seconds))
        return None if np.isnan(found) else found

    @property
    def fade_percent(self) -> float | None:
        """How much longer the last third takes than the first, in %; below zero when it speeds up."""
        if len(self.seconds) < FEWEST:
            return None
        third = len(self.seconds) // 3
        first, last = mean(self.seconds[:third]), mean(self.seconds[-third:])
        return 100 * (last - first) / first


def set_tempo(set_id: int, day: date, load: float | None, unit: str, report: SetReport) -> SetTempo | None:
    """The tempo of a judged set, None where nothing was counted."""
    full = [r for r in report.reps if not r.partial]
    if not report.quality.usable or not full:
        return None
    return SetTempo(
        set_id, day, load=load, unit=unit, flags=len(report.flags()),
        lifts=tuple(r.lift_s for r in full), lowers=tuple(r.lower_s for r in full),
        seconds=tuple(r.end_s - r.start_s for r in full),
        range_deg=median(r.drive_max_deg - r.drive_min_deg for r in full),
    )  # fmt: skip


def in_order(sets: Sequence[SetTempo]) -> list[SetTempo]:
    """The sets as they were done."""
    return sorted(sets, key=lambda s: (s.day, s.set_id))


def against_usual(one: SetTempo, others: Sequence[SetTempo]) -> str:
    """One sentence: this set against the member's usual on the machine."""
    said = f"About {one.usual:.1f} s a rep"
    if one.cv_percent is not None:
        said += f", {even_word(one.cv_percent)}"
    fade = one.fade_percent
    if fade is not None and abs(fade) >= 5:
        said += f", {_word(fade)} towards the end"
    earlier = [o.usual for o in others if o.set_id != one.set_id]
    if not earlier:
        return said + ". This is the first set to compare with."
    usual = median(earlier)
    change = 100 * (one.usual - usual) / usual
    if abs(change) < 5:
        return f"{said}. That is the usual pace."
    return f"{said}. That is {_word(change)} than the usual {usual:.1f} s."


def _word(change: float) -> str:
    return "slower" if change > 0 else "quicker"


def band(seconds: float) -> tuple[float, float]:
    """From how many to how many seconds a way is as asked."""
    return (1 - AS_ASKED) * seconds, (1 + AS_ASKED) * seconds


def over_weeks(sets: Sequence[SetTempo], motion: Motion, today: date) -> str:
    """What became of each way since the load last went up, else from the first sets to the last ones.

    Empty with a single set. motion: the machine's words for lift and lower.
    """
    ordered = in_order(sets)
    if len(ordered) < 2:
        return ""
    up = _last_rise(ordered)
    if up is not None:
        before, after = ordered[max(0, up - COMPARED) : up], ordered[up:][-COMPARED:]
        when = f"Since the load went up on {date_words(ordered[up].day, today)}"
    else:
        many = min(COMPARED, len(ordered) // 2)
        before, after = ordered[:many], ordered[-many:]
        when = f"In the last {counted(many, 'set')}" if many > 1 else "In the last set"
    ways = ((motion.lift, "lifts"), (motion.lower, "lowers"))
    spans = [(way, _usual(before, name), _usual(after, name)) for way, name in ways]
    changed = sorted((s for s in spans if _has_changed(*s[1:])), key=lambda s: -abs(s[2] - s[1]) / s[1])
    if not changed:
        both = " and ".join(f"{now:.1f} s {way}" for way, _, now in spans)
        return f"{when} both ways take as long as before: {both}."
    told = [f"the way {way} takes {now:.1f} s instead of {was:.1f} s" for way, was, now in changed]
    told += [
        f"the way {way} still takes {now:.1f} s" for way, was, now in spans if not _has_changed(was, now)
    ]
    return f"{when}, {', '.join(told)}."


def _last_rise(ordered: Sequence[SetTempo]) -> int | None:
    """Place of the first set after the load last went up; None where it never did."""
    known = [i for i, s in enumerate(ordered) if s.weight]
    rises = [
        b
        for a, b in pairwise(known)
        if ordered[a].in_pins == ordered[b].in_pins and ordered[b].weight > ordered[a].weight
    ]
    return rises[-1] if rises else None


def _usual(sets: Sequence[SetTempo], way: str) -> float:
    return float(median(median(getattr(s, way)) for s in sets))


def _has_changed(was: float, now: float) -> bool:
    return abs(now - was) >= max(CHANGED * was, CHANGED_S)


def phase_rows(one: SetReport, other: SetReport) -> list[tuple[str, str, str, str]]:
    """(phase, the one, the other, how the other differs) of two sets, by the usual repetition of each."""
    rows = []
    for name, key in (("Lift", "lift_s"), ("Hold", "hold_s"), ("Lower", "lower_s"), ("Rest", "rest_s")):
        a, b = (_median(report.reps, key) for report in (one, other))
        if a is not None and b is not None:
            rows.append((name, f"{a:.1f} s", f"{b:.1f} s", _difference(b - a)))
    return rows


def _median(reps: Sequence[RepPart], key: str) -> float | None:
    known = [getattr(r, key) for r in reps if not r.partial and getattr(r, key) is not None]
    return median(known) if known else None


def _difference(seconds: float) -> str:
    if abs(seconds) < ALIKE_S:
        return "alike"
    return f"{abs(seconds):.1f} s {'longer' if seconds > 0 else 'shorter'}"
