"""Report and signals -> inline SVG that needs no script and keeps its text size at any width.

Horizontal positions are percentages of the drawing's width; lines live in a nested drawing that
stretches. Colours and strokes are classes of the page's style sheet, so that light, dark and
print come from one place; every mark has a shape of its own beside its colour.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup, escape

from shared.domain import Floats, Signal
from shared.report import FindingPart, RepPart
from vision.judging.evidence import VIEW

#: A rest longer than this many times the longest movement is drawn cut, so that bars stay readable.
REST_CUT = 0.6
_MAX_POINTS = 700
_HEIGHT = 150.0
_TOP = 20.0
_BOTTOM = 22.0

#: Drawn about (0, 0), 12 pixels wide: a triangle flags, a diamond asks to watch, a ring cannot tell.
SHAPES: Mapping[str, str] = {
    "flag": '<path class="m-flag" d="M0-6.5 6.5 5.5H-6.5Z"/>',
    "watch": '<path class="m-watch" d="M0-6.5 6 0 0 6.5-6 0Z"/>',
    "cannot-tell": '<circle class="m-cannot" r="5"/>',
    "clear": '<circle class="m-clear" r="2.5"/>',
}
VERDICT_WORDS: Mapping[str, str] = {
    "flag": "flagged",
    "watch": "to watch",
    "cannot-tell": "cannot tell",
    "clear": "clear",
}


def mark(verdict: str) -> Markup:
    """The shape of a verdict as a drawing of its own, with its word for those who cannot see it."""
    word = escape(VERDICT_WORDS[verdict])
    return Markup(
        f'<svg class="mark" role="img" aria-label="{word}" viewBox="-8 -8 16 16" width="16" height="16">'
        f"{SHAPES[verdict]}</svg>"
    )


def worst_verdict(findings: Iterable[FindingPart], rep: int) -> str:
    """What to show of one repetition: flag before watch before cannot-tell before clear.

    What the view can never show is no mark on every repetition.
    """
    found = {f.verdict for f in findings if f.rep == rep and f.reason_code != VIEW}
    return next((v for v in ("flag", "watch", "cannot-tell") if v in found), "clear")


@dataclass(frozen=True)
class TempoBar:
    """One repetition of the tempo picture."""

    number: int
    verdict: str
    partial: bool
    seconds: float
    drawing: Markup
    words: str


def tempo_bars(reps: Sequence[RepPart], findings: Sequence[FindingPart]) -> list[TempoBar]:
    """One bar a repetition, split into lift, hold, lower and rest, all on one scale of seconds."""
    if not reps:
        return []
    moving = max(r.lift_s + r.hold_s + r.lower_s for r in reps)
    cut = moving * REST_CUT
    scale = max(r.lift_s + r.hold_s + r.lower_s + min(r.rest_s or 0.0, cut) for r in reps)
    return [_bar(rep, scale, cut=cut, verdict=worst_verdict(findings, rep.number)) for rep in reps]


def _bar(rep: RepPart, scale: float, cut: float, verdict: str) -> TempoBar:
    parts = [("lift", rep.lift_s), ("hold", rep.hold_s), ("lower", rep.lower_s)]
    if rep.rest_s is not None:
        parts.append(("rest", rep.rest_s))
    words = ", ".join(f"{name} {seconds:.1f} s" for name, seconds in parts)
    drawn, at = [], 0.0
    for name, seconds in parts:
        width = 100 * (min(seconds, cut) if name == "rest" else seconds) / scale
        y, height = (7, 6) if name == "hold" else (3, 14)
        drawn.append(f'<rect class="t-{name}" x="{at:.2f}%" y="{y}" width="{width:.2f}%" height="{height}"/>')
        at += width
    if rep.rest_s is not None and rep.rest_s > cut:
        drawn.append(f'<svg x="{at - 100 * cut / scale / 2:.2f}%" y="10" overflow="visible">{_BREAK}</svg>')
    drawing = Markup(
        f'<svg role="img" aria-label="{escape(words)}" width="100%" height="20">'
        f"{_seconds(scale)}{''.join(drawn)}</svg>"
    )
    moved = rep.lift_s + rep.hold_s + rep.lower_s
    return TempoBar(rep.number, verdict, partial=rep.partial, seconds=moved, drawing=drawing, words=words)


_BREAK = '<path class="t-break" d="M-5 9-1-9M1 9 5-9"/>'


def _seconds(scale: float) -> str:
    step = next(s for s in (1, 2, 5, 10, 30, 60, 600) if scale / s <= 12 or s == 600)
    ticks = np.arange(step, scale, step)
    return "".join(
        f'<line class="grid" x1="{100 * t / scale:.2f}%" x2="{100 * t / scale:.2f}%" y1="0" y2="20"/>'
        for t in ticks
    )


def signal_chart(
    signal: Signal,
    reps: Sequence[RepPart],
    moments: Sequence[FindingPart],
    limits: Sequence[tuple[str, float]],
) -> Markup:
    """One signal over time: repetitions shaded and numbered, its uncertainty as a band, marks on top.

    moments: findings that were read off this signal; limits: (word, value) in the signal's unit,
    drawn as dashed lines. Unknown stretches stay empty.
    """
    time, values, half = _thinned(signal)
    known = np.isfinite(values)
    if not known.any():
        return Markup('<p class="quiet">Not known in this clip.</p>')
    frame = _Frame.around(time, values, half, [value for _, value in limits])
    drawn = [_rep_shades(frame, reps), _curves(frame, time, values=values, half=half), _axis(frame)]
    drawn += [_limit_line(frame, word, value) for word, value in limits]
    drawn += [
        _moment(frame, signal, time_s=f.time_s, verdict=f.verdict) for f in moments if f.time_s is not None
    ]
    label = escape(f"{signal.name} over time, {len(reps)} repetitions, {len(moments)} marked moments")
    return Markup(
        f'<svg role="img" aria-label="{label}" width="100%" height="{_HEIGHT:g}">{"".join(drawn)}</svg>'
    )


@dataclass(frozen=True)
class _Frame:
    """Where a moment and a value lie in the drawing: x in percent, y in pixels."""

    start: float
    end: float
    low: float
    high: float

    @classmethod
    def around(cls, time: Floats, values: Floats, half: Floats, also: Sequence[float]) -> _Frame:
        low = float(np.nanmin(np.append(values - half, also)))
        high = float(np.nanmax(np.append(values + half, also)))
        pad = max(0.04 * (high - low), 1e-3)
        return cls(float(time[0]), max(float(time[-1]), float(time[0]) + 1e-3), low - pad, high + pad)

    def x(self, time: float) -> float:
        return 100 * (time - self.start) / (self.end - self.start)

    def y(self, value: float) -> float:
        return _TOP + (_HEIGHT - _TOP - _BOTTOM) * (self.high - value) / (self.high - self.low)


def _thinned(signal: Signal) -> tuple[Floats, Floats, Floats]:
    step = max(1, -(-len(signal.values) // _MAX_POINTS))
    half = np.hypot(signal.moment_half, signal.clip_half)
    return signal.time_s[::step], signal.values[::step], np.nan_to_num(half[::step])


def _rep_shades(frame: _Frame, reps: Sequence[RepPart]) -> str:
    drawn = []
    for rep in reps:
        x0, x1 = frame.x(rep.start_s), frame.x(rep.end_s)
        kind = "partial" if rep.partial else "rep"
        drawn.append(
            f'<rect class="s-{kind}" x="{x0:.2f}%" width="{x1 - x0:.2f}%" y="{_TOP:g}" '
            f'height="{_HEIGHT - _TOP - _BOTTOM:g}"/>'
            f'<text class="tick mid" x="{(x0 + x1) / 2:.2f}%" y="13">{rep.number}</text>'
        )
    return "".join(drawn)


def _curves(frame: _Frame, time: Floats, values: Floats, half: Floats) -> str:
    """Band and line of every known stretch, in a nested drawing of 1000 units that stretches."""
    drawn = []
    for part in _known_parts(values):
        xs = [10 * frame.x(float(t)) for t in time[part]]
        line = [(x, frame.y(float(v))) for x, v in zip(xs, values[part], strict=True)]
        upper = [(x, frame.y(float(v))) for x, v in zip(xs, values[part] + half[part], strict=True)]
        lower = [(x, frame.y(float(v))) for x, v in zip(xs, values[part] - half[part], strict=True)]
        drawn.append(f'<polygon class="s-band" points="{_points(upper + lower[::-1])}"/>')
        drawn.append(f'<polyline class="s-line" points="{_points(line)}"/>')
    return (
        f'<svg viewBox="0 0 1000 {_HEIGHT:g}" width="100%" height="{_HEIGHT:g}" preserveAspectRatio="none">'
        f"{''.join(drawn)}</svg>"
    )


def _known_parts(values: Floats) -> list[slice]:
    """The unbroken stretches without NaN."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], np.isfinite(values), [False])).astype(np.int8)))
    return [slice(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _points(points: Sequence[tuple[float, float]]) -> str:
    return " ".join(f"{x:.0f},{y:.1f}" for x, y in points)


def _limit_line(frame: _Frame, word: str, value: float) -> str:
    y = frame.y(value)
    return (
        f'<line class="s-limit" x1="0" x2="100%" y1="{y:.1f}" y2="{y:.1f}"/>'
        f'<text class="tick end" x="100%" dx="-4" y="{y - 4:.1f}">{escape(word)}</text>'
    )


def _moment(frame: _Frame, signal: Signal, time_s: float, verdict: str) -> str:
    value = float(np.interp(time_s, signal.time_s, np.nan_to_num(signal.values, nan=frame.low)))
    return (
        f'<svg x="{frame.x(time_s):.2f}%" y="{frame.y(value):.1f}" overflow="visible">{SHAPES[verdict]}</svg>'
    )


def _axis(frame: _Frame) -> str:
    """Seconds below, three rounded values at the left."""
    span = frame.end - frame.start
    step = next(s for s in (1, 2, 5, 10, 20, 60, 120, 600) if span / s <= 8 or s == 600)
    ticks = np.arange(np.ceil(frame.start / step) * step, frame.end, step)
    drawn = [
        f'<text class="tick mid" x="{frame.x(float(t)):.2f}%" y="{_HEIGHT - 6:g}">{t:g} s</text>'
        for t in ticks
        if 3 < frame.x(float(t)) < 97
    ]
    for value in _round_values(frame.low, frame.high):
        y = frame.y(value)
        drawn.append(f'<line class="grid" x1="0" x2="100%" y1="{y:.1f}" y2="{y:.1f}"/>')
        drawn.append(f'<text class="tick halo" x="2" y="{y - 3:.1f}">{value + 0.0:g}</text>')
    return "".join(drawn)


def _round_values(low: float, high: float) -> list[float]:
    steps = (0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 50, 100)
    step = next((s for s in steps if (high - low) / s <= 4), 100)
    first = np.ceil(low / step) * step
    return [round(float(v), 6) for v in np.arange(first, high, step)]
