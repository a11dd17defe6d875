"""What a scenario file can say: one dataclass a table, with units and defaults."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


@dataclass(frozen=True)
class BodySpec:
    """gender 0 male to 1 female; build, muscle, proportions 0 to 1.

    leg_cover 1 = knee, 2 = ankle; sleeve 1 = elbow, 2 = wrist.
    """

    gender: float = 0.0
    age: float = 30.0
    height_cm: float = 175.0
    build: float = 0.5
    muscle: float = 0.55
    proportions: float = 0.6
    skin: str = "light"
    hair: str = "brown"
    long_hair: bool = False
    shirt: str = "blue"
    shorts: str = "black"
    shoes: str = "white"
    sleeve: float = 0.55
    leg_cover: float = 0.7
    cloth_mm: float = 6.0

    @property
    def anny_age(self):
        """Age on anny's scale, 0.62 at 18 years to 1.0 at 90."""
        return float(np.interp(self.age, [18, 90], [0.62, 1.0]))


@dataclass(frozen=True)
class CameraSpec:
    """Metres and degrees; yaw off the view, aim offsets move the picture's centre."""

    view: str = ""
    yaw_deg: float = 0.0
    height_m: float = 1.1
    distance_m: float = 3.4
    fov_deg: float = 50.0
    aim_up_m: float = 0.0
    aim_right_m: float = 0.0
    roll_deg: float = 0.0
    shake_deg: float = 0.0
    width: int = 480
    height: int = 854


@dataclass(frozen=True)
class VideoSpec:
    """fps; jitter a share of the frame time; light a gain; noise in grey levels; blur in pixels."""

    fps: float = 30.0
    jitter: float = 0.0
    rotation_deg: int = 0
    crf: int = 27
    light: float = 1.0
    noise: float = 0.0
    blur_px: float = 0.0
    audio: bool = False


@dataclass(frozen=True)
class RepSpec:
    """One repetition: seconds of its phases, degrees of its ends, offsets (name -> value).

    hard_stop: stops dead at the lift end; rushed_turn: at the load-down end, with no rest after it;
    then: what is done in the rest after it (see ``aside``).
    """

    lift_s: float = 1.5
    hold_s: float = 0.3
    lower_s: float = 1.9
    rest_s: float = 0.35
    lift_end_deg: float = 0.0
    load_down_end_deg: float = 0.0
    range_share: float = 1.0
    hands_behind_cm: float | None = None
    hard_stop: bool = False
    rushed_turn: bool = False
    rest_on_stack: bool = False
    then: str = ""
    sticking: float = 0.0
    offsets: dict = field(default_factory=dict)


@dataclass(frozen=True)
class SetSpec:
    """The set: count, usual phases and ends, how much repetitions vary, time before and after.

    before, after: what the lifter does then (see ``aside``); softness (2,): of phases at the load-down and
    the lift end, 1 stops dead.
    """

    reps: int = 12
    lift_s: float = 1.5
    hold_s: float = 0.3
    lower_s: float = 1.9
    rest_s: float = 0.35
    lift_end_deg: float | None = None
    load_down_end_deg: float | None = None
    vary: float = 0.06
    vary_deg: float = 1.0
    get_in_s: float = 3.0
    get_out_s: float = 2.5
    before: str = ""
    after: str = ""
    softness: tuple = (1.6, 2.1)
    fidget_deg: float = 4.0
    trunk_deg: float | None = None
    hip_creep_cm: float = 0.0
    seed: int = 1


@dataclass(frozen=True)
class MachineSpec:
    """pivot_offset_cm: machine axis from the knee axis, along the thigh and across (up);
    lever_side near or far; arms_out 0 elbows well forward to 1 wide grip; elbow_turn_deg turns the elbow
    about the line from shoulder to hand (positive: out), hands_turn_deg that line itself: up and out;
    way (6,): the handles go straight, from out, ahead, up at the load-down end to those at the lift end, in
    arm lengths from the shoulder; empty where the arms lead them;
    occluder none, post, plate, screen or arm-screen; mirror_m: a mirror so far behind it, 0 for none.
    """

    pivot_offset_cm: tuple = (0.0, 0.0)
    arm_pads: bool = False
    arms_out: float = 0.0
    elbow_turn_deg: float = 0.0
    hands_turn_deg: tuple = (0.0, 0.0)
    way: tuple = ()
    occluder: str = "none"
    mirror_m: float = 0.0
    colour: str = "grey"
    lever_side: str = "near"


@dataclass(frozen=True)
class PersonSpec:
    """Somebody else: bystander, trainer or passer-by; place (2,) m, walk (2,) m/s from start_s."""

    kind: str = "bystander"
    place: tuple = (0.0, 1.5)
    heading_deg: float = 0.0
    walk: tuple = (0.0, 0.0)
    start_s: float = 0.0
    body: BodySpec = field(default_factory=BodySpec)


@dataclass(frozen=True)
class Scenario:
    """One clip to render; run_as: the machine a control is filmed for; source: the file's text."""

    name: str
    exercise: str
    run_as: str
    part: str
    fit: bool
    problems: tuple
    short: bool
    conditions: tuple
    body: BodySpec
    camera: CameraSpec
    video: VideoSpec
    set: SetSpec
    machine: MachineSpec
    people: tuple
    reps: tuple
    source: str
