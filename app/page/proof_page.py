"""The proof on a studio's own clips as a page: pictures of agreement, numbers by machine, clip by clip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from app.page.theme import ASSETS
from app.rules.proof import FEWEST, UNITS, WORDS, ClipProof, Pair, agreements, exercises_of, trust
from app.rules.words import title_of
from shared.proof import Agreement, What

HEADS = ("What", "Pairs", "Mean difference", "Limits of agreement")
#: Size of a picture and of its margins.
WIDTH, HEIGHT, LEFT, BOTTOM, EDGE = 360.0, 200.0, 52.0, 34.0, 12.0


def proof_page(clips: Sequence[ClipProof], passed_over: int) -> str:
    """The page as HTML; passed_over: reports without a tag."""
    page = Environment(loader=FileSystemLoader(ASSETS), autoescape=True, undefined=StrictUndefined)
    return page.get_template("proof.html").render(
        trust=trust(clips),
        machines=[_machine(name, [c for c in clips if c.exercise == name]) for name in exercises_of(clips)],
        heads=HEADS,
        all=[row_of(found) for found in agreements(clips)],
        clips=[clip_row(clip) for clip in clips],
        passed_over=passed_over,
        fewest=FEWEST,
    )


def _machine(name: str, clips: Sequence[ClipProof]) -> dict[str, Any]:
    drawn = [Markup(picture(pairs, found)) for found, pairs in pictured(clips)]
    rows = [row_of(found) for found in agreements(clips)]
    return {"title": title_of(name), "clips": len(clips), "rows": rows, "pictures": drawn}


def pictured(clips: Sequence[ClipProof]) -> list[tuple[Agreement, list[Pair]]]:
    """What has limits of agreement that can be drawn, each with its pairs."""
    pairs = [pair for clip in clips for pair in clip.pairs]
    return [(one, [p for p in pairs if p.what == one.what]) for one in agreements(clips) if one.sd]


def row_of(found: Agreement) -> tuple[str, ...]:
    """One line of the table under ``HEADS``, in words."""
    limits = "too few"
    if found.low is not None and found.high is not None:
        limits = f"{found.low:+.2f} to {found.high:+.2f}"
    return (_title(found), str(found.n), f"{found.mean:+.2f}", limits)


def _title(found: Agreement) -> str:
    """``Time of the lift, s``; repetitions have no unit beside their name."""
    return WORDS[found.what] if found.what == "count" else f"{WORDS[found.what]}, {UNITS[found.what]}"


def clip_row(clip: ClipProof) -> dict[str, str]:
    """One clip in words: its counts, and of each time and of the range the largest difference."""

    def largest(what: What) -> str:
        found = [p.difference for p in clip.pairs if p.what == what]
        return f"{max(found, key=abs):+.2f}" if found else ""

    count = next((p for p in clip.pairs if p.what == "count"), None)
    return {
        "clip": clip.clip,
        "machine": title_of(clip.exercise),
        "count": "" if count is None else f"{count.body:.0f} and {count.tag:.0f}",
        "lift": largest("lift"),
        "lower": largest("lower"),
        "range": largest("range"),
        "rests": "" if clip.rests is None else str(clip.rests),
    }


def picture(pairs: Sequence[Pair], found: Agreement) -> str:
    """Differences over means, with their mean and the limits of agreement, as an SVG."""
    means = [(p.body + p.tag) / 2 for p in pairs]
    levels = [v for v in (found.mean, found.low, found.high, 0.0) if v is not None]
    x_low, x_high = _span(means)
    y_low, y_high = _span([*(p.difference for p in pairs), *levels])

    def x(value: float) -> float:
        return LEFT + (value - x_low) / (x_high - x_low) * (WIDTH - LEFT - EDGE)

    def y(value: float) -> float:
        return HEIGHT - BOTTOM - (value - y_low) / (y_high - y_low) * (HEIGHT - BOTTOM - EDGE)

    lines = "".join(
        f'<line class="{kind}" x1="{LEFT}" x2="{WIDTH - EDGE}" y1="{y(v):.1f}" y2="{y(v):.1f}"/>'
        f'<text x="{LEFT - 5}" y="{y(v) + 4:.1f}" text-anchor="end">{v:+.2f}</text>'
        for kind, v in (("mean", found.mean), ("limit", found.low), ("limit", found.high))
        if v is not None
    )
    dots = "".join(
        f'<circle class="dot" cx="{x(m):.1f}" cy="{y(p.difference):.1f}" r="3"/>'
        for m, p in zip(means, pairs, strict=True)
    )
    ends = "".join(
        f'<text x="{x(v):.1f}" y="{HEIGHT - BOTTOM + 14}" text-anchor="middle">{v:.2g}</text>'
        for v in (min(means), max(means))
    )
    words = f"{_title(found)}: body less tag"
    return (
        f'<svg viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" aria-label="{words}">'
        f'{lines}{dots}{ends}<text x="{(LEFT + WIDTH) / 2}" y="{HEIGHT - 4}" text-anchor="middle">'
        f"{words}</text></svg>"
    )


def _span(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values), max(values)
    room = 0.08 * (high - low) or 0.5
    return low - room, high + room
