"""findings -> report: everything a reader needs, in the documented schema."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import metadata

from shared.domain import Clip, RepSet, Track
from shared.exercise import Exercise
from shared.report import (
    ClipPart,
    FindingPart,
    MemberPart,
    ProblemPart,
    QualityPart,
    RepPart,
    ScalePart,
    SetReport,
    TempoPart,
    UnjudgedPart,
)
from vision.common.cautions import CAUTIONS
from vision.judging.evidence import VIEW
from vision.judging.judge import Judged
from vision.judging.options import Options
from vision.judging.quality import NOT_THEIRS, off_view_deg
from vision.measuring.learnt.data import NOT_CALIBRATED, has_data
from vision.measuring.measure import Measured
from vision.measuring.reps.tempo import measure_tempo
from vision.seeing.look import Seen
from vision.telling.asked_tempo import against_asked
from vision.telling.first_look import pace
from vision.telling.machine_report import machine_notes, machine_part, two_counts
from vision.telling.words import NOT_CLEARED
from vision.telling.yardstick import member_notes, member_part, range_note, reference_notes

_DIGITS = 4


def build_report(
    seen: Seen,
    measured: Measured,
    judged: Judged,
    *,
    definition: Exercise,
    exercise: Exercise,
    options: Options,
    step: str | None = None,
) -> SetReport:
    """The report of one set, built once. With problems it gives none of the findings, and count is null.

    definition: the exercise before the member's limits; exercise: with them; step: the second look, if any.
    """
    usable, track, reps = not judged.problems, measured.track, measured.reps
    listed = [RepPart.of(r) for r in reps.reps] if reps else []
    tempo = _tempo(reps, exercise, judged.findings) if reps and usable else None
    full = len(reps.full) if reps else 0
    member = member_part(definition, exercise, options, measured.view)
    notes, notices = _notes(seen, measured, judged=judged, member=member, exercise=exercise, options=options)
    steps = list(track.log) if track else []
    followed = reps is not None and all(problem.code not in NOT_THEIRS for problem in judged.problems)
    return SetReport(
        exercise=exercise.name,
        clip=_clip_part(seen.clip),
        quality=QualityPart(
            usable=usable,
            view=measured.view,
            view_deg=round(off_view_deg(track, exercise), 1) if track else None,
            problems=[ProblemPart(code=p.code, text=p.text) for p in judged.problems],
            notes=notes,
        ),
        count=full if usable else None,
        reps=listed if usable else [],
        unjudged=UnjudgedPart(count=full, reps=listed) if followed and not usable else None,
        tempo=tempo,
        findings=list(judged.findings),
        scale=_scale(track, options),
        notices=notices,
        other_machines=list(judged.likely),
        member=member,
        reference=judged.reference,
        machine=machine_part(measured.machine, reps, options.pivot_depth_cm),
        cautions=[*CAUTIONS, *exercise.cautions],
        steps=steps if step is None else [*steps, step],
        versions=versions(seen.model),
    )


def _tempo(reps: RepSet, exercise: Exercise, findings: Sequence[FindingPart]) -> TempoPart:
    """The tempo in words; rough times alone where this side does not show the pace well enough."""
    tempo = measure_tempo(reps, exercise.motion)
    if not any(f.reason_code == VIEW and f.unit == "s" for f in findings):
        return against_asked(tempo, reps, exercise)
    if tempo.lift_s is None or tempo.lower_s is None:
        return tempo
    about = pace(tempo.lift_s.mean, tempo.lower_s.mean, exercise.motion)
    return tempo.model_copy(update={"sentence": f"{about.capitalize()}, a rough guess from this side."})


def _notes(
    seen: Seen,
    measured: Measured,
    judged: Judged,
    member: MemberPart | None,
    exercise: Exercise,
    options: Options,
) -> tuple[list[str], list[str]]:
    """What is worth knowing beside the findings, and what a trainer must see, another machine first."""
    usable = not judged.problems
    said, grave = two_counts(measured.machine, measured.reps) if usable else (None, False)
    counts = [said] if said else []
    notes = [
        *seen.notes,
        *(seen.subject.notes if seen.subject else ()),
        *(measured.notes if usable else ()),
        *judged.notes,
        *range_note(options.usual_range(exercise.name, measured.view), measured.reps),
        *member_notes(member, exercise),
        *reference_notes(judged.reference),
        *machine_notes(measured.machine, exercise, usable),
        *([] if grave else counts),
    ]
    notices = [
        *([judged.guess] if judged.guess else []),
        *([NOT_CLEARED] if exercise.needs_clearance and not options.cleared else []),
        *([] if has_data(exercise.name) else [NOT_CALIBRATED]),
        *(drift.text for drift in (judged.reference.drifts if judged.reference else [])),
        *(counts if grave else []),
    ]
    return notes, notices


def versions(model: str) -> dict[str, str]:
    """What made the report: our version, the landmark model and the packages that shape a number."""
    out = {"plumbset": metadata.version("plumbset"), "model": model}
    for package in ("mediapipe", "av", "opencv-contrib-python", "numpy", "scipy"):
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


def _scale(track: Track | None, options: Options) -> ScalePart:
    if track is None or track.cm_per_px is None:
        return ScalePart(unit="trunk_fraction", height_cm=options.height_cm)
    return ScalePart(unit="cm", height_cm=options.height_cm, cm_per_px=round(track.cm_per_px, 6))
