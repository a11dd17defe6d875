"""What one run of the pipeline leaves: the report and every stage it was made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from shared.domain import Clip, Landmarks, RepSet, Signal, Track
from shared.exercise import Exercise
from shared.report import SetReport
from vision.judging.options import Options
from vision.measuring.machine.shown import Machine


@dataclass(frozen=True)
class Analysis:
    """The stages of one clip. track and reps are None where the clip was not fit for them.

    looks: who was found, look by look; subject: the person judged, one slot; tracks: the track that gave
    each signal.
    """

    clip: Clip
    exercise: Exercise
    options: Options
    looks: tuple[Landmarks, ...]
    subject: Landmarks
    track: Track | None
    signals: Mapping[str, Signal]
    reps: RepSet | None
    report: SetReport
    machine: Machine | None = None
    tracks: Mapping[str, Track] = field(default_factory=dict)
