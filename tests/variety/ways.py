"""Ways in, between and out of a set, by part: nothing may be designed on the sealed ones.

Those of the wide part are drawn anew in every set: a few poses out of all that a sitter can take.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from tests.variety.body import HAND, HEAD, HIP, KNEE, PITCH, SIDES, THIGH
from tests.variety.script import Script

Part = Literal["design", "wide", "sealed"]
Place = Literal["in", "between", "out"]


@dataclass(frozen=True)
class Way:
    """One way; a way in begins the clip and leaves the person ready, a way out ends it."""

    name: str
    place: Place
    part: Part
    act: Callable[[Script], None]


WAYS: list[Way] = []


def way(
    place: Place, part: Part = "design"
) -> Callable[[Callable[[Script], None]], Callable[[Script], None]]:
    def register(act: Callable[[Script], None]) -> Callable[[Script], None]:
        WAYS.append(Way(act.__name__.replace("_", "-"), place, part, act))
        return act

    return register


def ways(place: Place, part: Part) -> list[Way]:
    return [w for w in WAYS if w.place == place and w.part == part]


def _ready(s: Script, low: float = 0.5, high: float = 1.2) -> None:
    s.move(s.seated(), s.uniform(low, high))
    s.hold(s.uniform(0.3, 1.5))


def _lap(s: Script) -> None:
    s.start_as(s.leaning(s.uniform(-8, 5), (0.32, -0.42, 0.12)))
    s.hold(s.uniform(0.5, 2.0))


def _one_hand(s: Script, off: tuple[float, float, float], seconds: float, pitch: float | None = None) -> None:
    """One hand goes somewhere, out on its own side, and stays there for a moment."""
    side = ("left", "right")[int(s.rng.integers(2))]
    pose = s.now.copy()
    pose[PITCH] = s.now[PITCH] if pitch is None else pitch
    s.move(s.put_hand(pose, side, (off[0], off[1], SIDES[side] * off[2])), seconds)
    s.hold(s.uniform(0.2, 0.8))


@way("in")
def seated_from_the_first_frame(s: Script) -> None:
    s.hold(s.uniform(0.8, 3.0))


@way("in")
def walks_in(s: Script) -> None:
    s.start_as(s.standing(s.uniform(1.0, 1.6), s.uniform(-0.6, 0.6), 180.0))
    beside = s.standing(0.55, 0.0, 180.0)
    s.walk(beside, s.uniform(1.5, 3.0))
    s.walk(s.standing(0.5, 0.0, 0.0), s.uniform(0.8, 1.5))
    bent = s.leaning(38.0, (0.3, -0.4, 0.2))
    bent[HIP] = (0.2, 0.68, 0.0)
    s.move(bent, s.uniform(0.6, 1.0))
    s.move(s.leaning(0.0, (0.32, -0.4, 0.15)), s.uniform(0.6, 1.0))
    _ready(s)


@way("in")
def light_test_repetition(s: Script) -> None:
    s.hold(s.uniform(0.5, 2.0))
    share, pace = s.uniform(0.35, 0.6), s.uniform(0.5, 0.9)
    q = s.seated(share)
    s.move(q, pace)
    s.move(s.seated(), pace)
    s.hold(s.uniform(1.5, 4.0))


@way("in")
def leans_to_reach(s: Script) -> None:
    """To the handles, or to the pad and the footplate, and back with them."""
    _lap(s)
    knee = 140.0 if s.machine.limb == "leg" else s.now[KNEE["left"]]
    pose = s.leaning(s.uniform(32, 52), (s.uniform(0.35, 0.5), s.uniform(-0.3, 0.1), 0.22), knee=float(knee))
    s.move(pose, s.uniform(0.7, 1.2))
    s.hold(s.uniform(0.2, 1.0))
    _ready(s, 0.8, 1.4)


@way("in")
def shifts_on_the_seat(s: Script) -> None:
    for _ in range(int(s.rng.integers(1, 3))):
        pose = s.seated(s.uniform(0.0, 0.2))
        pose[HIP.start] += s.uniform(0.05, 0.15)
        pose[HIP.start + 1] += s.uniform(0.03, 0.1)
        pose[PITCH] += s.uniform(5, 20)
        s.move(pose, s.uniform(0.4, 0.8))
        s.move(s.seated(), s.uniform(0.4, 0.8))
    s.hold(s.uniform(0.4, 1.5))


@way("in")
def begins_in_mid_lift(s: Script) -> None:
    s.rep(1.4, 0.3, 1.6, s.uniform(0.2, 0.6), begin=s.uniform(0.5, 0.9))


@way("in")
def wipes_hands_first(s: Script) -> None:
    _lap(s)
    for _ in range(int(s.rng.integers(2, 5))):
        s.move(s.leaning(0.0, (0.42, -0.42, 0.15)), s.uniform(0.3, 0.6))
        s.move(s.leaning(0.0, (0.2, -0.4, 0.12)), s.uniform(0.3, 0.6))
    _ready(s)


@way("in", "sealed")
def adjusts_seat_or_pin(s: Script) -> None:
    _lap(s)
    for _ in range(int(s.rng.integers(1, 4))):
        _one_hand(s, (s.uniform(0.0, 0.3), -0.5, 0.45), s.uniform(0.5, 1.0), s.uniform(10, 35))
        s.move(s.leaning(0.0, (0.32, -0.42, 0.12)), s.uniform(0.5, 1.0))
    _ready(s)


@way("in", "sealed")
def stretches(s: Script) -> None:
    s.hold(0.5)
    for _ in range(int(s.rng.integers(1, 3))):
        knee = 150.0 if s.machine.limb == "leg" else 95.0
        s.move(s.leaning(-5.0, (0.05, 0.5, 0.25), knee=knee), s.uniform(0.8, 1.4))
        s.hold(s.uniform(0.3, 1.0))
        s.move(s.leaning(0.0, (0.3, -0.4, 0.2)), s.uniform(0.8, 1.4))
    _ready(s)


@way("in", "sealed")
def ties_a_shoe(s: Script) -> None:
    _lap(s)
    s.move(s.leaning(75.0, (0.35, -0.35, 0.05)), s.uniform(0.8, 1.3))
    for _ in range(3):
        s.move(s.leaning(75.0, (0.3, -0.28, 0.08)), 0.4)
        s.move(s.leaning(75.0, (0.35, -0.38, 0.05)), 0.4)
    s.move(s.leaning(0.0, (0.32, -0.42, 0.12)), s.uniform(0.8, 1.2))
    _ready(s)


def _anything(s: Script, least: int, most: int) -> None:
    """Poses at random, one after the other: arms together or each for itself, some with a lean or a shift."""
    for _ in range(int(s.rng.integers(least, most + 1))):
        pose = s.now.copy()
        bends = s.rng.random() < 0.4
        pose[PITCH] = s.uniform(-15, 60) if bends else s.base[PITCH] + s.uniform(-5, 5)
        pose[HIP.start] += s.uniform(0.0, 0.15) * (s.rng.random() < 0.3)
        alike = s.rng.random() < 0.5
        off = (s.uniform(-0.1, 0.55), s.uniform(-0.55, 0.5), s.uniform(0.0, 0.5))
        for side, sign in SIDES.items():
            if alike or s.rng.random() < 0.5:
                s.put_hand(pose, side, (off[0], off[1], sign * off[2]))
            if s.machine.limb == "leg" and s.rng.random() < 0.4:
                pose[KNEE[side]] = s.uniform(80, 165)
        s.move(pose, s.uniform(0.4, 1.6))
        s.hold(s.uniform(0.0, 1.5))


@way("in", "wide")
def gets_ready_somehow(s: Script) -> None:
    s.start_as(
        s.leaning(s.uniform(-10, 30), (s.uniform(0.1, 0.5), s.uniform(-0.5, 0.1), s.uniform(0.05, 0.4)))
    )
    s.hold(s.uniform(0.2, 1.5))
    _anything(s, 0, 6)
    _ready(s)


@way("between", "wide")
def does_something_else(s: Script) -> None:
    _anything(s, 1, 3)
    _ready(s)


@way("out", "wide")
def leaves_somehow(s: Script) -> None:
    s.hold(s.uniform(0.0, 1.0))
    _anything(s, 0, 7)
    s.hold(s.uniform(0.2, 1.5))


@way("between")
def wipes_the_face(s: Script) -> None:
    _one_hand(s, (0.14, 0.15, 0.04), s.uniform(0.4, 0.8))
    _one_hand(s, (0.14, 0.22, 0.0), 0.4)
    _ready(s)


@way("between")
def grips_anew(s: Script) -> None:
    pose = s.now.copy()
    for side in SIDES:
        pose[HAND[side].start] -= s.uniform(0.05, 0.15)
        pose[HAND[side].start + 1] -= s.uniform(0.0, 0.1)
    s.move(pose, s.uniform(0.3, 0.6))
    _ready(s, 0.3, 0.6)


@way("between")
def waits(s: Script) -> None:
    s.hold(s.uniform(2.0, 6.0))


@way("between", "sealed")
def drinks(s: Script) -> None:
    _one_hand(s, (0.3, -0.4, 0.4), s.uniform(0.6, 1.0), 8.0)
    _one_hand(s, (0.16, 0.1, 0.02), s.uniform(0.7, 1.0), -12.0)
    s.hold(s.uniform(0.8, 2.0))
    _ready(s)


@way("out")
def stays_seated(s: Script) -> None:
    s.hold(s.uniform(0.8, 3.0))


@way("out")
def leans_to_let_go(s: Script) -> None:
    s.hold(s.uniform(0.2, 0.8))
    knee = 145.0 if s.machine.limb == "leg" else s.now[KNEE["left"]]
    s.move(
        s.leaning(s.uniform(30, 50), (0.42, s.uniform(-0.3, 0.1), 0.2), knee=float(knee)), s.uniform(0.7, 1.2)
    )
    s.hold(s.uniform(0.2, 0.6))
    s.move(s.leaning(0.0, (0.32, -0.42, 0.12)), s.uniform(0.7, 1.2))
    s.hold(s.uniform(0.5, 2.0))


@way("out")
def stands_up(s: Script) -> None:
    s.hold(s.uniform(0.2, 0.8))
    bent = s.leaning(42.0, (0.35, -0.35, 0.2))
    bent[HIP] = (0.2, 0.66, 0.0)
    s.move(bent, s.uniform(0.6, 1.0))
    s.move(s.standing(0.5, 0.0), s.uniform(0.6, 1.0))
    s.walk(s.standing(1.6, s.uniform(-0.5, 0.5)), s.uniform(1.2, 2.0))


@way("out")
def talks_with_hands(s: Script) -> None:
    s.hold(s.uniform(0.2, 0.6))
    for _ in range(int(s.rng.integers(4, 12))):
        hands = (s.uniform(0.15, 0.5), s.uniform(-0.4, 0.1), s.uniform(0.05, 0.35))
        s.move(s.leaning(s.uniform(-8, 8), hands), s.uniform(0.3, 0.9))
    s.hold(s.uniform(0.3, 1.0))


@way("out")
def puts_the_load_down_early(s: Script) -> None:
    """A last repetition that stays half: it is listed as partial."""
    s.rep(1.3, 0.1, 0.9, 0.5, share=s.uniform(0.42, 0.6))
    s.hold(s.uniform(0.5, 2.0))


@way("out")
def cut_in_mid_lowering(s: Script) -> None:
    s.rep(1.4, 0.3, 1.8, 0.0, stop=s.uniform(0.2, 0.55))


@way("out", "sealed")
def helper_hands_something(s: Script) -> None:
    s.hold(s.uniform(0.2, 0.8))
    s.move(s.leaning(0.0, (0.32, -0.42, 0.12)), s.uniform(0.6, 1.0))
    for _ in range(int(s.rng.integers(1, 3))):
        _one_hand(s, (0.4, s.uniform(-0.1, 0.2), 0.35), s.uniform(0.6, 1.0), 10.0)
        _one_hand(s, (0.15, 0.1, 0.02), s.uniform(0.6, 1.0), -5.0)
        s.move(s.leaning(0.0, (0.32, -0.42, 0.12)), s.uniform(0.6, 1.0))
    s.hold(0.6)


@way("out", "sealed")
def stands_and_turns(s: Script) -> None:
    s.hold(0.3)
    bent = s.leaning(40.0, (0.35, -0.35, 0.2))
    bent[HIP] = (0.22, 0.66, 0.0)
    s.move(bent, s.uniform(0.6, 1.0))
    s.move(s.standing(0.5, 0.0), s.uniform(0.6, 1.0))
    s.walk(s.standing(0.5, 0.0, s.uniform(90, 180)), s.uniform(1.0, 1.6))
    wipe = s.now.copy()
    wipe[HEAD] = 20.0
    for side, sign in SIDES.items():
        s.put_hand(wipe, side, (0.35, -0.1, sign * 0.2))
    for _ in range(2):
        before = s.now.copy()
        s.move(wipe, 0.7)
        s.move(before, 0.7)


@way("out", "sealed")
def shakes_out(s: Script) -> None:
    """Loose limbs, shaken."""
    s.move(s.leaning(0.0, (0.25, -0.45, 0.25)), 0.8)
    for i in range(int(s.rng.integers(3, 7))):
        pose = s.leaning(0.0, (0.25, -0.45 + 0.15 * (i % 2), 0.3))
        for j, side in enumerate(SIDES):
            pose[THIGH[side]] += 4.0 * ((i + j) % 2)
            pose[KNEE[side]] += s.uniform(10, 35) * ((i + j) % 2)
        s.move(pose, s.uniform(0.3, 0.5))
    s.hold(0.5)


__all__ = ["WAYS", "Part", "Place", "Way", "ways"]
