"""Does the movement look like another machine than the one named? Silent whenever that is unsure.

Legs or arms: which joint moves while the other keeps still. Arms: whether the hands travel up and
down over the shoulder, or level. Which way the load rises is read from where the limb rests before
and after the set; a set rests at its load-down end. Which machines move like that their definitions
say: by ``hands``, the drive's joint and which way it goes as the load rises.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, RepSet, Signal, Track, Unit
from shared.errors import DefinitionError
from shared.exercise import Exercise, Hands, circuit_order, exercise_names, find_exercise
from vision.common.geometry import distance, included_angle
from vision.common.notices import LOOKS_LIKE
from vision.measuring.reps.find_reps import Lift, find_reps
from vision.measuring.track.filters import known_percentile

#: A joint that moves by this many degrees carries the load; one with this share of it keeps still.
MOVES_DEG, STILL_SHARE = 35.0, 0.35
#: Travel of the hands against the shoulders, in trunk lengths: clearly one way, hardly the other.
TRAVELS, HARDLY = 0.5, 0.3
#: A camera this far off a pure view tells nothing.
MAX_OFF_DEG = 30.0
#: The limb rests for this long before and after the set, within this share of its range of one end.
REST_S, NEAR_END = 0.4, 0.25
#: A seated thigh lies within asin of this of level; standing looks like a leg that rests straight.
LEVEL_THIGH = 0.6
#: Hands of a fly stay within this of the shoulders' height, in trunk lengths.
FLY_HEIGHT = 0.5
#: A limb that was hidden for more of the set than this does not tell which way the load rises.
MAX_HIDDEN = 0.05
Sets = dict[Lift, RepSet | None]
EITHER: frozenset[Lift] = frozenset({"rising", "falling"})


@dataclass(frozen=True)
class Movement:
    """What the hands may be doing, and which way the drive may go as the load rises."""

    hands: frozenset[Hands]
    lifts: frozenset[Lift] = EITHER

    def fits(self, exercise: Exercise) -> bool:
        """Whether it may be of that exercise; still hands are told with legs that bend and stretch alone."""
        told = exercise.hands != "still" or exercise.drive_joint == "knee"
        return told and exercise.hands in self.hands and exercise.drive.lift in self.lifts


@dataclass(frozen=True)
class _Moves:
    """Ranges within the set: knee and elbow in degrees, hands over and beside the shoulders in trunks.

    top: highest place of the hands over the shoulders, in trunks.
    """

    knee: float
    elbow: float
    up: float
    along: float
    top: float


def likely_machines(track: Track, exercise: Exercise, stays: Floats) -> list[str]:
    """The names of the machines that the movement fits where it does not fit the one named.

    stays (T,): whether the person keeps their place. None of them when unsure, and for an exercise that does
    not say how the hands travel.
    """
    movement = movement_of(track, stays) if exercise.hands is not None else None
    if movement is None or movement.fits(exercise):
        return []
    return [other.name for other in circuit_order(_shipped()) if movement.fits(other)]


def guess_words(likely: Sequence[str], exercise: Exercise) -> str:
    """What is said of a clip that looks like other machines."""
    seen, named = _words(likely), _words([exercise.name])
    return f"{LOOKS_LIKE} {seen}, not like {named}. If so, check the clip again as that machine."


def _words(names: Iterable[str]) -> str:
    return " or ".join(name.replace("-", " ") for name in names)


def _shipped() -> Iterator[Exercise]:
    """Every exercise that can be read: a file at fault is told where it is asked for."""
    for name in exercise_names():
        with suppress(DefinitionError):
            yield find_exercise(name)


def movement_of(track: Track, stays: Floats) -> Movement | None:
    """What the person does; None when unsure."""
    yaw = abs(track.view.yaw_deg)
    if abs(yaw - 90.0) <= MAX_OFF_DEG:
        return _from_the_side(track, stays)
    if min(yaw, 180.0 - yaw) <= MAX_OFF_DEG:
        return _from_the_front(track, stays)
    return None


def _from_the_side(track: Track, stays: Floats) -> Movement | None:
    knee = np.where(_seated(track), _joint(track, "hip", vertex="knee", b="ankle"), np.nan)
    elbow = _joint(track, "shoulder", vertex="elbow", b="wrist")
    leg_sets, arm_sets = _sets(knee, track, stays), _sets(elbow, track, stays)
    legs, arms = _best(leg_sets), _best(arm_sets)
    if legs is not None and (arms is None or len(legs.full) > len(arms.full)):
        moves = _measure(track, legs, knee=knee, elbow=elbow)
        if moves.knee >= MOVES_DEG and moves.elbow <= STILL_SHARE * moves.knee:
            return Movement(frozenset({"still"}), _by_rest(knee, track, leg_sets))
        return None
    if arms is None:
        return None
    moves = _measure(track, arms, knee=knee, elbow=elbow)
    if moves.elbow < MOVES_DEG or not moves.knee <= STILL_SHARE * moves.elbow:
        return None
    if moves.up >= TRAVELS and moves.top >= TRAVELS:
        return Movement(frozenset({"overhead"}), _by_rest(elbow, track, arm_sets))
    if moves.up <= HARDLY and moves.along >= TRAVELS:
        return Movement(frozenset({"level", "parting"}))
    return None


def _from_the_front(track: Track, stays: Floats) -> Movement | None:
    """From the front or behind: hands that part and close on one level, or travel over the shoulders.

    Who closes the arms under load leans on a back pad and is seen from the front, who parts them leans on a
    chest pad and is seen from behind; a rest that says otherwise is not believed.
    """
    height = _hand_height(track)
    gap = distance(track.xy("left_wrist"), track.xy("right_wrist")) / track.trunk_px
    wide_sets, high_sets = (_sets(hands, track, stays, unit="trunk_fraction") for hands in (gap, height))
    wide, high = _best(wide_sets), _best(high_sets)
    if wide is not None and high is None:
        inside = (track.time_s >= wide.start_s) & (track.time_s <= wide.end_s)
        if not abs(float(np.nanmedian(height[inside]))) <= FLY_HEIGHT:
            return None
        expected: Lift = "falling" if abs(track.view.yaw_deg) <= MAX_OFF_DEG else "rising"
        lifts = _by_rest(gap, track, wide_sets)
        return Movement(frozenset({"parting"}), lifts if lifts == {expected} else EITHER)
    if high is not None and wide is None:
        inside = (track.time_s >= high.start_s) & (track.time_s <= high.end_s)
        if float(np.nanpercentile(height[inside], 95)) >= TRAVELS:
            return Movement(frozenset({"overhead"}), _by_rest(height, track, high_sets))
    return None


def _joint(track: Track, a: str, vertex: str, b: str) -> Floats:
    return included_angle(*(track.xy(f"{track.near}_{part}") for part in (a, vertex, b)))


def _seated(track: Track) -> np.ndarray:
    """Whether the near thigh is about level, (T,); False where it is not known."""
    thigh = track.xy(f"{track.near}_knee") - track.xy(f"{track.near}_hip")
    return np.asarray(np.abs(thigh[:, 1]) <= LEVEL_THIGH * np.linalg.norm(thigh, axis=-1))


def _hand_height(track: Track) -> Floats:
    """Height of both hands over both shoulders in trunk lengths."""
    return np.asarray((track.xy("mid_shoulder") - track.xy("mid_wrist"))[:, 1] / track.trunk_px)


def _sets(values: Floats, track: Track, stays: Floats, unit: Unit = "deg") -> Sets:
    """The set that a quantity makes when its load rises with it, and against it; None for none."""
    least = MOVES_DEG if unit == "deg" else TRAVELS
    known = values[~np.isnan(values)]
    if not len(known) or np.ptp(np.percentile(known, [5, 95])) < 0.5 * least:
        return {"rising": None, "falling": None}
    nothing = np.zeros(len(values))
    drive = Signal("drive", unit, time_s=track.time_s, values=values, moment_half=nothing, clip_half=0.0)
    ways: tuple[Lift, Lift] = ("rising", "falling")
    return {way: find_reps(drive, way, min_range=least, stays=stays) for way in ways}


def _best(sets: Sets) -> RepSet | None:
    """The longer of the two; None when there is none."""
    found = [reps for reps in sets.values() if reps is not None]
    return max(found, key=lambda reps: len(reps.full), default=None)


def _by_rest(values: Floats, track: Track, sets: Sets) -> frozenset[Lift]:
    """Which way the quantity goes as the load rises; both ways when the rest does not tell.

    Read the right way a set has one repetition more, and the limb rests at its load-down end.
    """
    counts = {way: 0 if reps is None else len(reps.full) for way, reps in sets.items()}
    way: Lift = "rising" if counts["rising"] > counts["falling"] else "falling"
    reps = sets[way]
    if counts["rising"] == counts["falling"] or reps is None or not _rests(values, track, reps=reps, way=way):
        return EITHER
    return frozenset({way})


def _rests(values: Floats, track: Track, reps: RepSet, way: Lift) -> bool:
    """Whether the limb lies at the set's load-down end right before and right after the set."""
    during = (track.time_s >= reps.start_s) & (track.time_s <= reps.end_s)
    if np.isnan(values[during]).mean() > MAX_HIDDEN:
        return False
    down = float(np.median([rep.at_load_down for rep in reps.full]))
    for start, stop in ((reps.start_s - REST_S, reps.start_s), (reps.end_s, reps.end_s + REST_S)):
        inside = (track.time_s >= start) & (track.time_s <= stop)
        whole = start >= track.time_s[0] - 1e-9 and stop <= track.time_s[-1] + 1e-9
        if not whole or not (np.abs(values[inside] - down) <= NEAR_END * reps.usual_range).all():
            return False
    return True


def _measure(track: Track, reps: RepSet, knee: Floats, elbow: Floats) -> _Moves:
    inside = (track.time_s >= reps.start_s) & (track.time_s <= reps.end_s)
    hand = (track.xy(f"{track.near}_wrist") - track.xy(f"{track.near}_shoulder")) / track.trunk_px
    height = -hand[:, 1]

    def size(values: Floats) -> float:
        part = values[inside & ~np.isnan(values)]
        return float(np.ptp(np.percentile(part, [5, 95]))) if len(part) > 10 else float("nan")

    top = known_percentile(height[inside], 95)
    return _Moves(size(knee), size(elbow), up=size(height), along=size(hand[:, 0]), top=top)
