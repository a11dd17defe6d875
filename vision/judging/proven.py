"""What printed tags proved of a studio's clips -> intervals as wide as that: never narrower than they were.

A proof holds for clips like those it came from. Where it shows larger errors than what was learnt on rendered
sets tells, every interval of a lift's or lower's time, and of the drive's angle at an end, becomes as wide as
those errors; whatever a check then holds against a limit needs that much more. Smaller errors only keep a
short phase, which is told surer than others, from being told surer than they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shared.domain import Signals
from shared.exercise import Exercise
from shared.proof import Agreement, Proof
from vision.measuring.learnt.data import Learnt, load_learnt
from vision.measuring.learnt.uncertainty import Z90
from vision.measuring.measure import Measured

#: Begins the sentence that says what was widened.
WIDER = "Told with more give or take than usual"


@dataclass(frozen=True)
class Least:
    """Half-widths of 90 % intervals that nothing may be told narrower than; 0: as learnt.

    phase_s: of one lift or lower; end_deg: of the drive's angle at one end; clips: how many asked for it.
    """

    phase_s: float = 0.0
    end_deg: float = 0.0
    clips: int = 0

    def learnt(self, learnt: Learnt) -> Learnt:
        """What was learnt, with no surer times than these."""
        if learnt.duration_s >= self.phase_s:
            return learnt
        return learnt.model_copy(update={"duration_s": self.phase_s})

    def signals(self, signals: Signals, exercise: Exercise) -> Signals:
        """The signals, with no surer drive than this."""
        name = exercise.drive.signal
        drive = signals.get(name)
        if drive is None or drive.unit != "deg" or drive.clip_half >= self.end_deg:
            return signals
        return {**signals, name: replace(drive, clip_half=self.end_deg)}


AS_LEARNT = Least()


def least_of(proof: Proof | None, exercise: Exercise) -> Least:
    """What a proof asks of an exercise; nothing where too little was proved.

    The error of a range is that of both ends: a share of one over the root of two for each.
    """
    if proof is None:
        return AS_LEARNT
    times, ranges = proof.of(exercise.name, "lift", "lower"), proof.of(exercise.name, "range")
    clips = proof.machines[exercise.name].clips if times or ranges else 0
    return Least(phase_s=_half(times), end_deg=_half(ranges) / 2**0.5, clips=clips)


def _half(found: Sequence[Agreement]) -> float:
    """Half-width about nothing at all that holds nine of ten differences: their mean is an error too."""
    return max((abs(one.mean) + Z90 * (one.sd or 0.0) for one in found), default=0.0)


def widened(measured: Measured, exercise: Exercise, least: Least) -> Measured:
    """What was measured, with no surer drive than that, and a note of all that was widened."""
    told = []
    usual_s = load_learnt(exercise.name).duration_s
    if least.phase_s > usual_s:
        told.append(f"lift and lower to within {least.phase_s:.2f} s in place of {usual_s:.2f}")
    signals = least.signals(measured.signals, exercise)
    if signals is not measured.signals:
        name = exercise.drive.signal
        usual = measured.signals[name].clip_half
        told.append(f"the angle of the {name} to within {least.end_deg:.1f} degrees in place of {usual:.1f}")
    if not told:
        return measured
    proved = f"the studio's own {least.clips} clips with tags on this machine were further off"
    note = f"{WIDER}, because {proved}: {'; '.join(told)}."
    return replace(measured, signals=signals, notes=(*measured.notes, note))
