"""A set at a station: counted by a survey alone, in a process of its own, before anybody is told of it."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from pathlib import Path

from app.jobs.contained import Say, quiet, run_contained
from app.jobs.held import Limits
from shared.exercise import find_exercise
from shared.recording import FEWEST_REPS

#: What a set at a station may cost: it lasts three minutes at most.
LIMITS = Limits(wall_s=600.0, cpu_s=1200)
#: One after the other: the clips that members sent are checked on the same machine.
_TURN = threading.Lock()


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
    """Count a clip.

    Raises
    ------
    InputError : it cannot be read. InternalError : reading it failed on our side.
    """
    with _TURN:
        told: Counting = run_contained(count, (clip, exercise), quiet, Counting, LIMITS)
        return told


def count(clip: Path, exercise: str, say: Say) -> Counting:
    """See ``counted``: what the process that reads the clip is asked."""
    from vision.pipeline import survey_alone
    from vision.seeing.clip import open_clip
    from vision.seeing.pose_mediapipe import MediaPipePose
    from vision.telling.first_look import FirstLook, pace

    definition = find_exercise(exercise)
    report = survey_alone(open_clip(clip), definition, MediaPipePose(None))
    look = FirstLook.of(report, definition.motion)
    tempo = ""
    if look.lift_s is not None and look.lower_s is not None:
        tempo = pace(look.lift_s, look.lower_s, definition.motion)
    seen = report if report.unjudged is None else report.unjudged
    return Counting(seen.count, tempo, " ".join(problem.text for problem in report.quality.problems))
