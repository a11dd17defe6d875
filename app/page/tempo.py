"""Tempo of one set against the usual, and over the weeks, as numbers, sentences and drawings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import mean, median, pstdev

from markupsafe import escape

from app.rules.history import KG_PER_LB
from app.rules.words import MONTHS, load_words
from shared.report import SetReport
from vision.measuring.tempo import even_word

HEIGHT, TOP = 296.0, 18.0
#: Where the tempo ends, and from where to where range and load are drawn, in pixels from the top.
TEMPO_END, BANDS = 170.0, ((206.0, 228.0), (246.0, 268.0))
#: Room left and right, in percent.
LEFT, RIGHT = 15.0, 4.0
MOST_LABELS = 6
#: Fewer repetitions than this have no fade: the halves would be too small.
FEWEST = 6


@dataclass(frozen=True)
class SetTempo:
    """One set: seconds of its counted repetitions without rests, and what a trainer reads off them."""

    set_id: int
    day: date
    load: float | None
    unit: str
    seconds: tuple[float, ...]
    range_deg: float
    flags: int

    @property
    def load_kg(self) -> float:
        """The load in kg, 0 where it was not told."""
        return (self.load or 0.0) * (KG_PER_LB if self.unit == "lb" else 1.0)

    @property
    def usual(self) -> float:
        """The median repetition."""
        return median(self.seconds)

    @property
    def cv_percent(self) -> float:
        """Spread against the mean."""
        return 100 * pstdev(self.seconds) / mean(self.seconds)

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
    seconds = tuple(r.end_s - r.start_s for r in full)
    span = median(r.drive_max_deg - r.drive_min_deg for r in full)
    return SetTempo(
        set_id, day, load=load, unit=unit, seconds=seconds, range_deg=span, flags=len(report.flags())
    )


def against_usual(one: SetTempo, others: Sequence[SetTempo]) -> str:
    """One sentence: this set against the member's usual on the machine."""
    said = f"About {one.usual:.1f} s a rep, {even_word(one.cv_percent)}"
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


def weeks_drawing(sets: Sequence[SetTempo], show_flags: bool) -> str:
    """Repetition length over time: a dot a set, its spread as a bar, flags as triangles.

    Range and load follow below. Across in percent, so that text keeps its size at any width.
    """
    ordered = sorted(sets, key=lambda s: (s.day, s.set_id))
    top = max(s.usual + pstdev(s.seconds) for s in ordered) * 1.15
    xs = [LEFT + (100 - LEFT - RIGHT) * (i + 0.5) / len(ordered) for i in range(len(ordered))]

    def y(seconds: float) -> float:
        return TOP + (TEMPO_END - TOP) * (1 - seconds / top)

    drawn = [_tick(t, y(t)) for t in range(0, int(top) + 1, 1 if top < 8 else 2)]
    for i in range(1, len(ordered)):
        ends = (xs[i - 1], xs[i], y(ordered[i - 1].usual), y(ordered[i].usual))
        drawn.append('<line class="w-line" x1="{:.2f}%" x2="{:.2f}%" y1="{:.1f}" y2="{:.1f}"/>'.format(*ends))
    every = -(-len(ordered) // MOST_LABELS)
    said = [(len(ordered) - 1 - i) % every == 0 for i in range(len(ordered))]
    for i, (x, one) in enumerate(zip(xs, ordered, strict=True)):
        spread = pstdev(one.seconds)
        drawn.append(_dot(x, y(one.usual), upper=y(one.usual + spread), lower=y(one.usual - spread)))
        if show_flags and one.flags:
            drawn.append(_flag(x, y(one.usual + spread) - 13))
        if said[i]:
            drawn.append(_label(x, f"{one.day.day} {MONTHS[one.day.month - 1][:3]}", HEIGHT - 6))
    ranges = [(s.range_deg, f"{s.range_deg:.0f}°") for s in ordered]
    loads = [(s.load_kg, load_words(s.load, s.unit)) for s in ordered]
    for name, values, band in (("Range", ranges, BANDS[0]), ("Load", loads, BANDS[1])):
        drawn += _band(name, xs, values=values, said=said, band=band)
    return f'<svg width="100%" height="{HEIGHT:g}">{"".join(drawn)}</svg>'


def _tick(seconds: int, y: float) -> str:
    return (
        f'<line class="grid" x1="{LEFT}%" x2="100%" y1="{y:.1f}" y2="{y:.1f}"/>'
        f'<text x="0" y="{y + 4:.1f}">{seconds} s</text>'
    )


def _band(
    name: str,
    xs: Sequence[float],
    values: Sequence[tuple[float, str]],
    said: Sequence[bool],
    band: tuple[float, float],
) -> list[str]:
    """One value over the sets as a line that starts from zero, in words where ``said``; 0 is not known."""
    top, bottom = band
    scale = (bottom - top) / (max(value for value, _ in values) or 1.0)
    points = zip(xs, values, said, strict=True)
    known = [(x, bottom - scale * value, words, s) for x, (value, words), s in points if value]
    drawn = [f'<text x="0" y="{top + 4:.1f}">{name}</text>']
    for (x0, y0, *_), (x1, y1, *_) in pairwise(known):
        drawn.append(f'<line class="w-line" x1="{x0:.2f}%" x2="{x1:.2f}%" y1="{y0:.1f}" y2="{y1:.1f}"/>')
    for x, y, words, in_words in known:
        drawn.append(f'<circle class="w-dot" cx="{x:.2f}%" cy="{y:.1f}" r="3.5"/>')
        drawn += [_label(x, words, y - 8)] if in_words else []
    return drawn


def _label(x: float, text: str, y: float) -> str:
    return f'<text class="w-mid" x="{x:.2f}%" y="{y:g}">{escape(text)}</text>'


def _dot(x: float, at: float, upper: float, lower: float) -> str:
    return (
        f'<line class="w-span" x1="{x:.2f}%" x2="{x:.2f}%" y1="{upper:.1f}" y2="{lower:.1f}"/>'
        f'<circle class="w-dot" cx="{x:.2f}%" cy="{at:.1f}" r="5"/>'
    )


def _flag(x: float, y: float) -> str:
    return (
        f'<svg x="{x:.2f}%" y="{y:.1f}" overflow="visible">'
        '<path class="m-flag" d="M0-6.5 6.5 5.5H-6.5Z"/></svg>'
    )
