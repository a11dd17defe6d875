"""Analysis and flag pictures -> report.html, one file that needs nothing else."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from shared.exercise import CheckSpec
from shared.faults import FLAG_CERTAINTY
from shared.report import FindingPart
from vision.common.cautions import acting_cautions
from vision.judging.checks import CHECKS
from vision.judging.evidence import VIEW
from vision.telling.analysis import Analysis
from vision.telling.charts import VERDICT_WORDS, mark, signal_chart, tempo_bars, worst_verdict
from vision.telling.cues import cues, headline
from vision.telling.groups import Group, groups, unseen
from vision.telling.handout import Handout, handout
from vision.telling.setup_questions import setup_questions
from vision.telling.words import (
    UNIT_WORDS,
    VIEW_WORDS,
    by_picture,
    counted,
    definition_limit,
    found_words,
    machine_lines,
    measured_words,
    ready_words,
    when_words,
)

TICK = Markup(
    '<svg class="mark" aria-hidden="true" viewBox="-8 -8 16 16" width="16" height="16">'
    '<path class="m-good" d="M-6 0-2 5 6-6"/></svg>'
)
Pictures = Mapping[tuple[str, int | None], bytes]


@dataclass(frozen=True)
class Moment:
    """One finding in words, with its picture as a data address where there is one.

    big: what its card says largest, its figures or to look at the picture; found: all that follows its name.
    """

    where: str
    when: str
    said: str
    prompt: str | None
    reason: str | None
    big: str
    found: str
    picture: Markup | None


@dataclass(frozen=True)
class Shown:
    """A picture of the hand-out as a data address; kind: good or change."""

    kind: str
    words: str
    picture: Markup | None

    @property
    def mark(self) -> Markup:
        """A tick or a triangle, beside the colour."""
        return TICK if self.kind == "good" else mark("flag")


def shown(kind: str, words: str, picture: bytes) -> Shown:
    """A picture of the hand-out, a JPEG."""
    return Shown(kind=kind, words=words, picture=_address(picture))


@dataclass(frozen=True)
class Plot:
    """One signal's chart with its caption."""

    title: str
    unit: str
    drawing: Markup


def _address(picture: bytes | None) -> Markup | None:
    if picture is None:
        return None
    return Markup("data:image/jpeg;base64," + base64.b64encode(picture).decode("ascii"))


def moments(group: Group, pictures: Pictures, clip: str) -> list[Moment]:
    """A group's findings in words, the clearest first; clip: the name that goes without saying."""
    return [_moment(f, pictures.get((f.check, f.rep)), clip, group.limit) for f in group.findings]


def _moment(finding: FindingPart, picture: bytes | None, clip: str, limit: str) -> Moment:
    said, reason = measured_words(finding), finding.reason
    look, _, rest = (reason or "").partition(": ") if by_picture(finding) else ("", "", reason)
    return Moment(
        where="The whole set" if finding.rep is None else f"Repetition {finding.rep}",
        when=when_words(finding, clip),
        said=said,
        prompt=finding.prompt,
        reason=rest,
        big=look.capitalize() or said,
        found=found_words(finding, limit, ": "),
        picture=_address(picture),
    )


def plots(analysis: Analysis) -> list[Plot]:
    """One chart a signal, drive first."""
    report, exercise = analysis.report, analysis.exercise
    reps = report.reps if report.quality.usable or report.unjudged is None else report.unjudged.reps
    names = sorted(analysis.signals, key=lambda name: name != exercise.drive.signal)
    made: list[Plot] = []
    found = [f for f in report.findings if f.clip in (None, report.clip.file)]
    for name in names:
        specs = {c.id: c for c in exercise.checks if c.signal == name}
        moments = [f for f in found if f.check in specs and f.verdict in ("flag", "watch")]
        signal = analysis.signals[name]
        limits = [line for spec in specs.values() for line in _limit_lines(spec, signal.unit == "cm")]
        drawing = signal_chart(signal, reps, moments=moments, limits=limits)
        title = name.replace("_", " ").capitalize() + (" (counts the repetitions)" if not made else "")
        made.append(Plot(title, UNIT_WORDS[signal.unit], drawing))
    return made


def _limit_lines(spec: CheckSpec, in_cm: bool) -> list[tuple[str, float]]:
    """Words and height of each bound of a check that measures its signal's own value."""
    if not CHECKS[spec.measure].traits.in_signal:
        return []
    low, high = spec.limit.resolved(in_cm)
    sides = (("below", low), ("above", high))
    return [(f"{spec.title.lower()} {side} {bound:g}", bound) for side, bound in sides if bound is not None]


def render_html(
    analysis: Analysis,
    pictures: Pictures,
    still: bytes | None = None,
    sheet: Handout | None = None,
    shown: Sequence[Shown] = (),
) -> str:
    """The whole page, the hand-out first; text that people wrote (file name, definition) is escaped.

    still: the picture with the marks on it, a JPEG. sheet: the hand-out, made here where it is None;
    shown: its pictures.
    """
    report, exercise = analysis.report, analysis.exercise
    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    followed = report.reps if report.quality.usable else (report.unjudged.reps if report.unjudged else [])
    return environment.get_template("report.html").render(
        report=report,
        exercise=exercise,
        sheet=(sheet or handout(report, exercise)) if report.quality.usable else None,
        stills=shown,
        headline=headline(report),
        flags=groups(report, exercise, "flag"),
        told={group.check for group in cues(report)},
        watches=groups(report, exercise, "watch"),
        cannot=groups(report, exercise, "cannot-tell"),
        unseen=unseen(report),
        ready=ready_words(report),
        setup=setup_questions(report, exercise),
        now=acting_cautions(exercise),
        bars=tempo_bars(followed, report.findings),
        followed=followed,
        plots=plots(analysis),
        moments=lambda group: moments(group, pictures, report.clip.file),
        view_words=VIEW_WORDS,
        machine=machine_lines(report),
        still=_address(still),
        limits=[(c.title, definition_limit(c), c.source) for c in exercise.checks],
        mark=mark,
        worst=lambda rep: worst_verdict(report.findings, rep),
        words=VERDICT_WORDS,
        named=lambda rep: _named(report.findings, rep),
        counted=counted,
        certainty=FLAG_CERTAINTY,
    )


def _named(findings: Sequence[FindingPart], rep: int) -> list[tuple[str, str]]:
    """(verdict, title) of what stands out in one repetition, flags first."""
    order = ("flag", "watch", "cannot-tell")
    here = [f for f in findings if f.rep == rep and f.verdict in order and f.reason_code != VIEW]
    found = [(f.verdict, f.title or f.check) for f in here]
    return sorted(found, key=lambda pair: order.index(pair[0]))
