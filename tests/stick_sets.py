"""Whole sets of stick people, judged without a picture: knee motion in, analysis out."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Landmarks
from shared.exercise import find_exercise
from tests.people import CLIP, landmarks, seated, world_of
from tests.synthetic import RepTruth, SetTruth
from vision.judging.options import Options
from vision.pipeline import judge_seen
from vision.seeing.camera import CameraPath
from vision.seeing.look import Seen
from vision.seeing.subject import find_subject
from vision.telling.analysis import Analysis

RATE = 30.0


def knee_motion(reps: int = 8, low: float = 95.0, range_deg: float = 65.0, **rep: float) -> np.ndarray:
    """Knee angle at 30 a second of a set that rests at its low end."""
    truth = SetTruth((RepTruth(**rep),) * reps, low=low, range=range_deg)
    return truth.drive(np.arange(0.0, truth.duration_s, 1.0 / RATE))


def judged(
    knee: np.ndarray,
    exercise: str = "leg-extension",
    options: Options | None = None,
    lean: float | np.ndarray = -8.0,
) -> Analysis:
    """The analysis of one person in a side view whose knee moves so; lean: trunk pitch in degrees."""
    return judge_landmarks(landmarks(seated(knee, pitch_deg=lean)), exercise, options)


def judge_landmarks(
    people: Landmarks, exercise: str, options: Options | None = None, camera: CameraPath | None = None
) -> Analysis:
    """The analysis of one person's landmarks, raw: corrections were not learnt on stick people."""
    clip = replace(CLIP, duration_s=float(people.time_s[-1]), frames=len(people.frame))
    seen = Seen(
        clip=clip, luma=120.0, sharpness=0.2, survey=people, subject=find_subject(people, clip), dense=people,
        model="stick", camera=camera,
    )  # fmt: skip
    return judge_seen(seen, find_exercise(exercise), replace(options or Options(), raw=True))


__all__ = ["RATE", "judge_landmarks", "judged", "knee_motion", "world_of"]
