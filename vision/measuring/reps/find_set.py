"""The set of a clip: by the drive alone, then by where the body keeps to the way of that set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from shared.domain import Floats, RepSet, Signal, Track
from shared.drive import Drive
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.reps.limb_way import with_limbs_way
from vision.measuring.reps.membership import belongs, load_ends
from vision.measuring.reps.phase_correction import PhaseCorrection, uncorrected
from vision.measuring.reps.strangers import without_strangers
from vision.measuring.reps.unseen import with_unseen_turns

#: The drive of guessed limbs is asked for where more of the clip's than this share is not known.
MISSING_SHARE = 0.02
#: An end that is hidden for more than this share of the clip does not tell whether it turned.
HIDDEN_SHARE = 0.3
#: So many repetitions alike are a set though they reach this share of the least range only: a joint that is
#: turned to the camera seems to bend little.
SMALL, MANY_REPS = 0.65, 5
#: Nothing smaller is a repetition, in degrees.
LEAST_DEG = 20.0


class _Attempt(NamedTuple):
    """What is taken for a set: repetitions of at least ``least``, at least ``fewest`` of them full.

    usual: the range of a full one; None: the set's own.
    """

    least: float
    usual: float | None
    fewest: int = 0


def _attempts(spec: Drive, usual: float | None) -> list[_Attempt]:
    """One after the other until one finds a set: by the member's range, by its own, many small ones alike."""
    by_member = [] if usual is None else [_Attempt(spec.min_range, usual)]
    small = max(SMALL * spec.min_range, LEAST_DEG)
    many_small = [_Attempt(small, None, MANY_REPS)] if small < spec.min_range else []
    return [*by_member, _Attempt(spec.min_range, None), *many_small]


def find_set(
    track: Track,
    stays: Floats,
    drive: Signal,
    spec: Drive,
    usual: float | None,
    correct: PhaseCorrection,
    guessed: Callable[[], Floats | None],
    by_joint: bool = False,
) -> tuple[Signal, RepSet | None]:
    """The drive where the body belongs to the set, NaN elsewhere, and the set; None when there is none.

    stays (T,): whether the person keeps their place; usual: the member's range, for which the set's own
    stands where hardly a repetition reaches it; guessed: the drive by limbs that are guessed where they are
    hidden; by_joint: the drive is the angle of a joint.
    """
    ends = load_ends(drive.points)
    end = track.still_xy(ends[0])
    seen = np.isnan(end).mean() <= HIDDEN_SHARE
    places = (end, end - track.still_xy(f"{track.near}_shoulder")) if seen else ()

    def found(part: Signal, moved: PhaseCorrection) -> RepSet | None:
        for attempt in _attempts(spec, usual):
            reps = find_reps(
                part,
                spec.lift,
                min_range=attempt.least,
                stays=stays,
                usual_range=attempt.usual,
                min_reps=spec.min_reps,
                correct=moved,
                places=places,
            )
            if reps is not None and len(reps.full) >= attempt.fewest:
                return reps
        return None

    values = drive.values
    if drive.missing_share > MISSING_SHARE and (guess := guessed()) is not None:
        values = np.where(np.isnan(values), guess, values)
    whole = replace(drive, values=values)
    alone = found(whole, uncorrected)
    if alone is None:
        return whole, None
    values = with_unseen_turns(values, whole.time_s, alone)
    inside = replace(whole, values=np.where(belongs(track, alone, ends), values, np.nan))
    reps = found(inside, correct)
    if reps is None:
        return inside, None
    reps = without_strangers(track, reps, ends, by_joint=by_joint)
    if by_joint:
        load = inside.values if spec.lift == "rising" else -inside.values
        reps = with_limbs_way(track, reps, ends, load)
    return inside, with_doubtful(reps, spec)


def with_doubtful(reps: RepSet, spec: Drive) -> RepSet:
    """The set with those short repetitions counted that may have gone all the way.

    Between two full ones only: a short movement at the end may put the handles back.
    """
    whole = [rep.number for rep in reps.full]
    return replace(
        reps,
        reps=tuple(
            replace(rep, partial=False)
            if whole and whole[0] < rep.number < whole[-1] and spec.may_be_whole(rep.range_share)
            else rep
            for rep in reps.reps
        ),
    )
