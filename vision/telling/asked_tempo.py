"""The tempo of a set, told against the one that was asked of the member."""

from __future__ import annotations

import numpy as np

from shared.domain import RepSet
from shared.exercise import Exercise
from shared.report import TempoPart
from vision.measuring.reps.tempo import EFFORT, SLOWED, detrended_cv, even_word, late_over_early

#: A phase within this share of the time asked for it is as asked. Common practice, no published source.
AS_ASKED = 0.25


def against_asked(tempo: TempoPart, reps: RepSet, exercise: Exercise) -> TempoPart:
    """The tempo with its words against the exercise's asked one; as it is where none was asked.

    ``About 1.6 s up and 1.7 s down, even. Asked for: 2 s up and 3 s down. It was faster down.``
    """
    asked, full = exercise.tempo, reps.full
    if asked is None or not full:
        return tempo
    ways = (exercise.motion.lift, exercise.motion.lower)
    wanted = (asked.lift_s, asked.lower_s)
    done = [float(np.median([r.lift_s for r in full])), float(np.median([r.lower_s for r in full]))]
    pace = [_pace(seconds / want) for seconds, want in zip(done, wanted, strict=True)]
    cv = detrended_cv(np.array([r.duration_s for r in full]))
    even = "" if np.isnan(cv) else f", {even_word(cv)}"
    late = late_over_early([r.lift_s + r.lower_s for r in full])
    said = (
        f"About {done[0]:.1f} s {ways[0]} and {done[1]:.1f} s {ways[1]}{even}. "
        f"Asked for: {wanted[0]:g} s {ways[0]} and {wanted[1]:g} s {ways[1]}. It was {_verdict(pace, ways)}."
    )
    word = "fast" if "faster" in pace else "slow" if "slower" in pace else "moderate"
    slowed = f" {SLOWED}" if late is not None and late > EFFORT else ""
    return tempo.model_copy(update={"speed_word": word, "asked_s": wanted, "sentence": said + slowed})


def _pace(ratio: float) -> str:
    """faster, slower, or nothing where a phase is as asked."""
    return "faster" if ratio < 1 - AS_ASKED else "slower" if ratio > 1 + AS_ASKED else ""


def _verdict(pace: list[str], ways: tuple[str, str]) -> str:
    if not any(pace):
        return "as asked"
    if pace[0] == pace[1]:
        return f"{pace[0]} both ways"
    return " and ".join(f"{p} {way}" for p, way in zip(pace, ways, strict=True) if p)
