"""findings -> report: everything a reader needs, in the documented schema."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import metadata

from shared.domain import Clip, Problem, Rep, RepSet, Track, ViewName
from shared.exercise import Exercise
from shared.report import (
    ClipPart,
    FindingPart,
    ProblemPart,
    QualityPart,
    RepPart,
    ScalePart,
    SetReport,
    UnjudgedPart,
)
from vision.common.prompts import CAUTIONS
from vision.judging.options import Options
from vision.judging.quality import off_view_deg
from vision.measuring.tempo import measure_tempo

_DIGITS = 4
NOT_CLEARED = (
    "This exercise needs a trainer's clearance, and none was given for this member. Repetitions are "
    "counted and measured for the trainer; no prompt is worded for the member."
)


def build_report(
    clip: Clip,
    exercise: Exercise,
    options: Options,
    track: Track | None,
    reps: RepSet | None,
    problems: Sequence[Problem],
    findings: Sequence[FindingPart],
    notes: Sequence[str],
    model: str,
) -> SetReport:
    """One report. With problems it gives none of the findings, and count is null."""
    usable = not problems
    listed = [rep_part(r) for r in reps.reps] if reps else []
    full = len(reps.full) if reps else 0
    return SetReport(
        exercise=exercise.name,
        clip=_clip_part(clip),
        quality=QualityPart(
            usable=usable,
            view=_view_name(track),
            view_deg=round(off_view_deg(track, exercise), 1) if track else None,
            problems=[ProblemPart(code=p.code, text=p.text) for p in problems],
            notes=list(notes),
        ),
        count=full if usable else None,
        reps=listed if usable else [],
        unjudged=UnjudgedPart(count=full, reps=listed) if reps and not usable else None,
        tempo=measure_tempo(reps) if reps and usable else None,
        findings=list(findings) if usable else [],
        scale=_scale(track, options),
        notices=[NOT_CLEARED] if exercise.needs_clearance and not options.cleared else [],
        cautions=[*CAUTIONS, *exercise.cautions],
        steps=list(track.log) if track else [],
        versions=versions(model),
    )


def versions(model: str) -> dict[str, str]:
    """What made the report: our version, the landmark model and the packages that shape a number."""
    out = {"plumbset": metadata.version("plumbset"), "model": model}
    for package in ("mediapipe", "av", "numpy", "scipy"):
        try:
            out[package] = metadata.version(package)
        except metadata.PackageNotFoundError:
            out[package] = "absent"
    return out


def _clip_part(clip: Clip) -> ClipPart:
    return ClipPart(
        file=clip.file,
        duration_s=round(clip.duration_s, _DIGITS),
        frames=clip.frames,
        fps_mean=round(clip.fps_mean, _DIGITS),
        width=clip.width,
        height=clip.height,
        rotation_deg=clip.rotation_deg,
    )


def _view_name(track: Track | None) -> ViewName | None:
    return track.view.name if track else None


def _scale(track: Track | None, options: Options) -> ScalePart:
    if track is None or track.cm_per_px is None:
        return ScalePart(unit="trunk_fraction", height_cm=options.height_cm)
    return ScalePart(unit="cm", height_cm=options.height_cm, cm_per_px=round(track.cm_per_px, 6))


def rep_part(rep: Rep) -> RepPart:
    """A repetition as the report gives it, rounded to a tenth of a millisecond."""

    def r(value: float) -> float:
        return round(value, _DIGITS)

    return RepPart(
        number=rep.number, start_s=r(rep.start_s), turn_s=r(rep.turn_s), lower_start_s=r(rep.lower_start_s),
        end_s=r(rep.end_s), lift_s=r(rep.lift_s), hold_s=r(rep.hold_s), lower_s=r(rep.lower_s),
        rest_s=None if rep.rest_s is None else r(rep.rest_s), drive_min_deg=r(rep.drive_min_deg),
        drive_max_deg=r(rep.drive_max_deg), lift_peak_speed=r(rep.lift_peak_speed),
        lower_peak_speed=r(rep.lower_peak_speed), partial=rep.partial,
    )  # fmt: skip
