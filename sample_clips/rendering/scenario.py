"""Scenario files: what to render, checked before anything is rendered."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

import numpy as np

VIEWS = ("side-left", "side-right", "front", "rear")
SETS = ("leg-extension", "leg-curl", "lat-pulldown", "chest-fly", "reverse-fly", "chest-press", "shoulder-press")
CONTROLS = ("none-fidget", "none-passing")
DEFAULT_ENDS = {
    "leg-extension": (90.0, 155.0), "leg-curl": (160.0, 85.0), "lat-pulldown": (160.0, 75.0),
    "chest-fly": (85.0, 10.0), "reverse-fly": (10.0, 85.0), "chest-press": (80.0, 160.0),
    "shoulder-press": (70.0, 160.0), "none-fidget": (90.0, 90.0), "none-passing": (90.0, 90.0),
}
DEFAULT_VIEW = {"chest-fly": "front", "reverse-fly": "rear"}
OFFSETS = ("trunk_pitch_deg", "head_pitch_deg", "hip_forward_cm", "feet_forward_cm", "shoulder_raise_cm", "elbow_deg",
           "arm_elevation_deg", "uneven_cm", "hands_height_cm", "hands_down_cm")


class ScenarioError(ValueError):
    """A scenario file that cannot be used: names file, key and what is wrong."""


@dataclass(frozen=True)
class BodySpec:
    """gender 0 male to 1 female; build, muscle, proportions 0 to 1; cover 1 = knee, 2 = ankle; sleeve 1 = elbow."""

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
    """fps 12 to 60; jitter is a share of the frame time; light a gain; noise in grey levels; blur in pixels."""

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
    """One repetition: seconds of its phases, degrees of its ends, offsets (name -> value)."""

    lift_s: float = 1.5
    hold_s: float = 0.3
    lower_s: float = 1.9
    rest_s: float = 0.35
    lift_end_deg: float = 0.0
    load_down_end_deg: float = 0.0
    range_share: float = 1.0
    hands_behind_cm: float | None = None
    hard_stop: bool = False
    rest_on_stack: bool = False
    sticking: float = 0.0
    offsets: dict = field(default_factory=dict)


@dataclass(frozen=True)
class SetSpec:
    """The set: count, usual phases and ends, how much repetitions vary, time before and after."""

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
    fidget_deg: float = 4.0
    trunk_deg: float | None = None
    hip_creep_cm: float = 0.0
    seed: int = 1


@dataclass(frozen=True)
class MachineSpec:
    """pivot_offset_cm: machine axis from the knee axis, along the thigh and across (up); lever_side near or far."""

    pivot_offset_cm: tuple = (0.0, 0.0)
    arm_pads: bool = False
    occluder: str = "none"
    colour: str = "grey"
    lever_side: str = "near"


@dataclass(frozen=True)
class PersonSpec:
    """Somebody else: kind bystander, trainer or passer-by; place (2,) m on the floor; walk (2,) m/s from start_s."""

    kind: str = "bystander"
    place: tuple = (0.0, 1.5)
    heading_deg: float = 0.0
    walk: tuple = (0.0, 0.0)
    start_s: float = 0.0
    body: BodySpec = field(default_factory=BodySpec)


@dataclass(frozen=True)
class Scenario:
    """One clip to render; run_as is the machine a control is filmed for; `source` is the file's text for its hash."""

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


def load_scenario(path):
    """Read and check one scenario file; `ScenarioError` names file, key and fault."""
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8")
        raw = tomllib.loads(text)
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ScenarioError(f"{path}: cannot be read as TOML: {error}") from error
    return parse_scenario(raw, path.stem, text, str(path))


def parse_scenario(raw, name, text="", where="scenario"):
    """A `Scenario` from the tables of a scenario file."""
    top = {"exercise", "run_as", "part", "fit", "problems", "short", "conditions", "body", "camera", "video", "set", "machine",
           "people", "rep"}
    _known(raw, top, where, "")
    exercise = raw.get("exercise")
    _choice(exercise, SETS + CONTROLS, where, "exercise")
    part = raw.get("part", "sample")
    _choice(part, ("sample", "tune", "validate"), where, "part")
    camera = _section(CameraSpec, raw.get("camera", {}), where, "camera")
    if not camera.view:
        camera = replace(camera, view=DEFAULT_VIEW.get(exercise, "side-left"))
    _choice(camera.view, VIEWS, where, "camera.view")
    video = _section(VideoSpec, raw.get("video", {}), where, "video")
    if not 5 <= video.fps <= 120:
        raise ScenarioError(f"{where}: video.fps is {video.fps}, expected 5 to 120")
    plan = _section(SetSpec, raw.get("set", {}), where, "set")
    body = _body(raw.get("body", {}), where, "body")
    people = tuple(_person(p, where, f"people[{i}]") for i, p in enumerate(raw.get("people", [])))
    reps = () if exercise in CONTROLS else _reps(exercise, plan, raw.get("rep", {}), where)
    return Scenario(
        name, exercise, raw.get("run_as", exercise), part, raw.get("fit", exercise in SETS), tuple(raw.get("problems", ())), raw.get("short", False),
        tuple(raw.get("conditions", ())), body, camera, video, plan,
        _section(MachineSpec, raw.get("machine", {}), where, "machine"), people, reps, text,
    )


def _reps(exercise, plan, overrides, where):
    down, lift = DEFAULT_ENDS[exercise]
    lift = plan.lift_end_deg if plan.lift_end_deg is not None else lift
    down = plan.load_down_end_deg if plan.load_down_end_deg is not None else down
    rng = np.random.default_rng(plan.seed)
    bad = [k for k in overrides if not (k.isdigit() and 1 <= int(k) <= plan.reps)]
    if bad:
        raise ScenarioError(f"{where}: rep.{bad[0]} is no repetition of a set of {plan.reps}")
    reps = []
    for number in range(1, plan.reps + 1):
        scale = np.exp(rng.normal(0, plan.vary, 4))
        ends = np.clip(rng.normal(0, 1, 2), -1.5, 1.5) * plan.vary_deg
        usual = RepSpec(plan.lift_s * scale[0], plan.hold_s * scale[1], plan.lower_s * scale[2], plan.rest_s * scale[3],
                        lift + ends[0], down + ends[1])
        reps.append(_rep(usual, overrides.get(str(number), {}), where, f"rep.{number}"))
    return tuple(reps)


def _rep(usual, given, where, key):
    offsets = {k: given[k] for k in given if k in OFFSETS}
    rest = {k: v for k, v in given.items() if k not in OFFSETS}
    rep = replace(_section(RepSpec, rest, where, key, usual), offsets=offsets)
    for name in ("lift_s", "lower_s"):
        if getattr(rep, name) <= 0.1:
            raise ScenarioError(f"{where}: {key}.{name} is {getattr(rep, name)}, expected more than 0.1 s")
    down = rep.load_down_end_deg
    return replace(rep, lift_end_deg=down + (rep.lift_end_deg - down) * rep.range_share)


def _person(raw, where, key):
    body = _body(raw.get("body", {}), where, key + ".body")
    person = _section(PersonSpec, {k: v for k, v in raw.items() if k != "body"}, where, key)
    _choice(person.kind, ("bystander", "trainer", "passer-by"), where, key + ".kind")
    return replace(person, body=body)


def _body(raw, where, key):
    from sample_clips.rendering.wardrobe import COLOURS, SKIN_TONES

    body = _section(BodySpec, raw, where, key)
    _choice(body.skin, tuple(SKIN_TONES), where, key + ".skin")
    for name in ("shirt", "shorts", "shoes"):
        _choice(getattr(body, name), tuple(COLOURS), where, f"{key}.{name}")
    _choice(body.hair, (*COLOURS, "bald"), where, key + ".hair")
    return body


def _section(kind, raw, where, key, base=None):
    """A dataclass from a table; unknown keys and wrong types are errors."""
    names = {f.name: f for f in fields(kind)}
    _known(raw, set(names) - {"offsets"}, where, key + ".", OFFSETS if kind is RepSpec else ())
    base = base if base is not None else kind()
    values = {}
    for name, value in raw.items():
        values[name] = _typed(value, names[name].type, where, f"{key}.{name}")
    return replace(base, **values)


def _typed(value, wanted, where, key):
    number = isinstance(value, (int, float)) and not isinstance(value, bool)
    good = {"float": number, "float | None": number, "int": isinstance(value, int) and number,
            "bool": isinstance(value, bool), "str": isinstance(value, str), "tuple": isinstance(value, list)}
    if not good.get(wanted, True):
        raise ScenarioError(f"{where}: {key} is {value!r}, expected {wanted}")
    return tuple(value) if wanted == "tuple" else value


def _known(raw, known, where, key, also=()):
    if not isinstance(raw, dict):
        raise ScenarioError(f"{where}: {key.rstrip('.')} is {raw!r}, expected a table")
    for name in raw:
        if name not in known:
            allowed = ", ".join(sorted({*known, *also}))
            raise ScenarioError(f"{where}: {key}{name} is unknown; expected one of {allowed}")


def _choice(value, allowed, where, key):
    if value not in allowed:
        raise ScenarioError(f"{where}: {key} is {value!r}, expected one of {', '.join(allowed)}")
