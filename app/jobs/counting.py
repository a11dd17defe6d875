"""A set at a station: counted by a survey alone, in a process of its own, before anybody is told of it."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from app.jobs.contained import Child, Say, quiet, run_contained, started
from app.jobs.held import Limits
from shared.exercise import find_exercise
from shared.recording import FEWEST_REPS

#: What a set at a station may cost: it lasts three minutes at most, and its film waits a quarter of an hour.
LIMITS = Limits(wall_s=240.0, cpu_s=480)
#: One after the other: the clips that members sent are checked on the same machine.
_TURN = threading.Lock()
#: A process that waits for the next film, with what it needs loaded: one film each.
_READY: list[Child] = []
_HEAVY = ("vision.pipeline", "vision.seeing.clip", "vision.seeing.pose_mediapipe")


@dataclass(frozen=True)
class Counting:
    """What a survey tells. count: full repetitions, None where they cannot be told.

    tempo: the mean times of both ways in words, empty where the clip is not fit for it; why: what is against
    judging the clip, a sentence.
    """

    count: int | None
    tempo: str = ""
    why: str = ""

    @property
    def is_set(self) -> bool:
        """Whether anybody should be told of it."""
        return self.count is not None and self.count >= FEWEST_REPS


def counted(clip: Path, exercise: str) -> Counting:
    """Count a clip, and get ready for the next one.

    Raises
    ------
    InputError : it cannot be read. InternalError : reading it failed on our side.
    """
    try:
        with _TURN:
            return _told(clip, exercise)
    finally:
        get_ready()


def _told(clip: Path, exercise: str) -> Counting:
    asked: Any = (count, (clip, exercise), quiet, Counting, LIMITS)
    told: Counting
    if _READY:
        with _READY.pop() as child:
            if child.alive():
                told = child.ask(*asked)
                return told
    told = run_contained(*asked)
    return told


def get_ready() -> None:
    """Have a process load what reading a film needs, so that nobody in front of a screen waits for that.

    Where a film is being counted, that is done after it.
    """
    if not _TURN.acquire(blocking=False):
        return
    try:
        if not _READY:
            _READY.append(Child(lambda: started(*_HEAVY)))
    finally:
        _TURN.release()


def count(clip: Path, exercise: str, say: Say) -> Counting:
    """See ``counted``: what the process that reads the clip is asked."""
    from vision.pipeline import survey_alone
    from vision.seeing.clip import open_clip
    from vision.seeing.pose_mediapipe import MediaPipePose
    from vision.telling.first_look import FirstLook, pace

    definition = find_exercise(exercise)
    report = survey_alone(open_clip(clip), definition, MediaPipePose(None))
    if report is None:
        return Counting(None)
    look = FirstLook.of(report, definition.motion)
    tempo = ""
    if look.lift_s is not None and look.lower_s is not None:
        tempo = pace(look.lift_s, look.lower_s, definition.motion)
    seen = report if report.unjudged is None else report.unjudged
    return Counting(seen.count, tempo, " ".join(problem.text for problem in report.quality.problems))
