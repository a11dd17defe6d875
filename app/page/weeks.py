"""A machine over the weeks as a drawing: each way by its true date, the range, and the load in steps."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from statistics import mean, median

import numpy as np
from markupsafe import escape

from app.page.tempo import SetTempo, in_order
from app.rules.words import MONTHS, load_words
from vision.measuring.reps.tempo import MODERATE_S, detrended_cv

Band = tuple[float, float]
HEIGHT = 410.0
#: From where to where each way, range and load are drawn, in pixels from the top.
LIFT, LOWER, RANGE, LOAD = (26.0, 110.0), (152.0, 236.0), (276.0, 296.0), (332.0, 374.0)
#: Room left and right, and between two words in one line, in percent; the height of a line in pixels.
LEFT, RIGHT, APART, LINE = 15.0, 4.0, 13.0, 14.0
#: Sets of one day lie this far apart, in percent.
OF_ONE_DAY = 2.0


def weeks_drawing(
    sets: Sequence[SetTempo], show_flags: bool, targets: tuple[Band, Band] = (MODERATE_S, MODERATE_S)
) -> str:
    """Lift and lower over time: a dot a set, its spread as a bar, the targets shaded, flags as triangles.

    targets: from how many to how many seconds, of lift and of lower. Across in percent, so that text keeps
    its size at any width.
    """
    ordered = in_order(sets)
    xs = _places([s.day for s in ordered])
    shown = [median(v) + _spread(v) for s in ordered for v in (s.lifts, s.lowers)]
    longest = max(*shown, *(high for _, high in targets))
    drawn = []
    ways = (("Lift", "lifts", LIFT), ("Lower", "lowers", LOWER))
    for (name, key, panel), target in zip(ways, targets, strict=True):
        values = [getattr(s, key) for s in ordered]
        drawn += _way(name, xs, values, panel=panel, longest=1.1 * longest, target=target)
    if show_flags:
        drawn += [_flag(x, LIFT[0] - 14) for x, s in zip(xs, ordered, strict=True) if s.flags]
    drawn += _range(xs, ordered) + _load(xs, ordered)
    for i in _with_room([(x, 0.0) for x in xs]):
        day = ordered[i].day
        drawn.append(_label(xs[i], f"{day.day} {MONTHS[day.month - 1][:3]}", HEIGHT - 6))
    return f'<svg width="100%" height="{HEIGHT:g}">{"".join(drawn)}</svg>'


def _places(days: Sequence[date]) -> list[float]:
    """Where each set stands across, in percent, by its date; those of one day side by side."""
    first, span = days[0], (days[-1] - days[0]).days
    out = []
    for i, day in enumerate(days):
        among, before = days.count(day), days[:i].count(day)
        at = (day - first).days / span if span else 0.5
        aside = OF_ONE_DAY * (before - (among - 1) / 2)
        out.append(LEFT + APART / 2 + (100 - LEFT - RIGHT - APART) * at + aside)
    return out


def _with_room(places: Sequence[tuple[float, float]]) -> list[int]:
    """Which of the places, from left to right, a word fits to without touching a later one."""
    kept: list[int] = []
    for i in reversed(range(len(places))):
        x, y = places[i]
        if all(places[k][0] - x >= APART or abs(places[k][1] - y) >= LINE for k in kept):
            kept.append(i)
    return kept


def _spread(values: Sequence[float]) -> float:
    """How far repetitions lie from each other, without a steady slowing, in s."""
    cv = detrended_cv(np.array(values))
    return 0.0 if np.isnan(cv) else cv * mean(values) / 100


def _way(
    name: str,
    xs: Sequence[float],
    values: Sequence[Sequence[float]],
    panel: tuple[float, float],
    longest: float,
    target: Band,
) -> list[str]:
    """One way over the sets: ticks by the second, the target, a line through the usual repetitions."""
    top, bottom = panel

    def y(seconds: float) -> float:
        return bottom - (bottom - top) * seconds / longest

    drawn = [
        f'<rect class="w-target" x="{LEFT}%" width="{100 - LEFT:g}%" y="{y(target[1]):.1f}" '
        f'height="{y(target[0]) - y(target[1]):.1f}"/>',
        f'<text class="w-name" x="0" y="{top - 8:.1f}">{name}</text>',
    ]
    every = next(n for n in (1, 2, 5, 10, 60) if longest / n <= 4 or n == 60)
    drawn += [_tick(t, y(t)) for t in range(0, int(longest) + 1, every)]
    usual = [median(v) for v in values]
    drawn += _line(xs, [y(u) for u in usual])
    for x, one, reps in zip(xs, usual, values, strict=True):
        spread = _spread(reps)
        drawn.append(_dot(x, y(one), upper=y(one + spread), lower=y(one - spread)))
    return drawn


def _range(xs: Sequence[float], sets: Sequence[SetTempo]) -> list[str]:
    """The range from zero on, in words where there is room."""
    top, bottom = RANGE
    scale = (bottom - top) / (max(s.range_deg for s in sets) or 1.0)
    ys = [bottom - scale * s.range_deg for s in sets]
    drawn = [f'<text class="w-name" x="0" y="{top + 4:.1f}">Range</text>', *_line(xs, ys)]
    drawn += [_small_dot(x, y) for x, y in zip(xs, ys, strict=True)]
    return drawn + [
        _label(xs[i], f"{sets[i].range_deg:.0f}°", ys[i] - 8) for i in _with_room([(x, 0.0) for x in xs])
    ]


def _load(xs: Sequence[float], sets: Sequence[SetTempo]) -> list[str]:
    """The load as steps, each with its title where there is room; pins and weights are not mixed."""
    top, bottom = LOAD
    drawn = [f'<text class="w-name" x="0" y="{top + 4:.1f}">Load</text>']
    known = [i for i, s in enumerate(sets) if s.weight]
    known = [i for i in known if sets[i].in_pins == sets[known[-1]].in_pins]
    if not known:
        return drawn
    low, high = (f(sets[i].weight for i in known) for f in (min, max))

    def y(i: int) -> float:
        return bottom - (bottom - top) * ((sets[i].weight - low) / (high - low) if high > low else 0.5)

    steps_at = [known[0]]
    for a, b in pairwise(known):
        drawn.append(_stroke(xs[a], xs[b], y(a), y(a)))
        if sets[b].weight != sets[a].weight:
            drawn.append(_stroke(xs[b], xs[b], y(a), y(b)))
            steps_at.append(b)
    drawn += [_small_dot(xs[i], y(i)) for i in known]
    titled = [steps_at[k] for k in _with_room([(xs[i], y(i)) for i in steps_at])]
    return drawn + [_label(xs[i], load_words(sets[i].load, sets[i].unit), y(i) - 8) for i in titled]


def _line(xs: Sequence[float], ys: Sequence[float]) -> list[str]:
    return [_stroke(x0, x1, y0, y1) for (x0, y0), (x1, y1) in pairwise(zip(xs, ys, strict=True))]


def _stroke(x0: float, x1: float, y0: float, y1: float) -> str:
    return f'<line class="w-line" x1="{x0:.2f}%" x2="{x1:.2f}%" y1="{y0:.1f}" y2="{y1:.1f}"/>'


def _tick(seconds: int, y: float) -> str:
    return (
        f'<line class="grid" x1="{LEFT}%" x2="100%" y1="{y:.1f}" y2="{y:.1f}"/>'
        f'<text x="0" y="{y + 4:.1f}">{seconds} s</text>'
    )


def _label(x: float, text: str, y: float) -> str:
    return f'<text class="w-mid" x="{x:.2f}%" y="{y:g}">{escape(text)}</text>'


def _small_dot(x: float, y: float) -> str:
    return f'<circle class="w-dot" cx="{x:.2f}%" cy="{y:.1f}" r="3.5"/>'


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
