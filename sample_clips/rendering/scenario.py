"""Scenario files: what to render, checked before anything is rendered."""

from __future__ import annotations

import tomllib
from dataclasses import fields, replace
from pathlib import Path

import numpy as np

from sample_clips.rendering.aside import KINDS
from sample_clips.rendering.specs import (
    BodySpec,
    CameraSpec,
    MachineSpec,
    PersonSpec,
    RepSpec,
    Scenario,
    SetSpec,
    VideoSpec,
)

VIEWS = ("side-left", "side-right", "front", "rear")
SETS = (
    "leg-extension",
    "leg-curl",
    "lat-pulldown",
    "chest-fly",
    "reverse-fly",
    "chest-press",
    "shoulder-press",
)
CONTROLS = ("none-fidget", "none-passing")
DEFAULT_ENDS = {
    "leg-extension": (90.0, 155.0),
    "leg-curl": (160.0, 85.0),
    "lat-pulldown": (160.0, 75.0),
    "chest-fly": (85.0, 10.0),
    "reverse-fly": (10.0, 85.0),
    "chest-press": (80.0, 160.0),
    "shoulder-press": (70.0, 160.0),
    "none-fidget": (90.0, 90.0),
    "none-passing": (90.0, 90.0),
}
DEFAULT_VIEW = {"chest-fly": "front", "reverse-fly": "rear"}
OFFSETS = (
    "trunk_pitch_deg",
    "head_pitch_deg",
    "hip_forward_cm",
    "feet_forward_cm",
    "shoulder_raise_cm",
    "elbow_deg",
    "hands_in",
    "arm_elevation_deg",
    "uneven_cm",
    "hands_height_cm",
    "hands_down_cm",
    "hands_up_cm",
)


class ScenarioError(ValueError):
    """A scenario file that cannot be used: names file, key and what is wrong."""


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
    top = {
        "exercise",
        "run_as",
        "part",
        "fit",
        "problems",
        "short",
        "conditions",
        "body",
        "camera",
        "video",
        "set",
        "machine",
        "people",
        "rep",
    }
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
    if len(plan.softness) != 2 or min(plan.softness) < 1:
        raise ScenarioError(
            f"{where}: set.softness is {list(plan.softness)}, expected two numbers of 1 or more"
        )
    for key in ("before", "after"):
        _choice(getattr(plan, key), ("", *KINDS), where, f"set.{key}")
    body = _body(raw.get("body", {}), where, "body")
    people = tuple(_person(p, where, f"people[{i}]") for i, p in enumerate(raw.get("people", [])))
    reps = () if exercise in CONTROLS else _reps(exercise, plan, raw.get("rep", {}), where)
    return Scenario(
        name,
        exercise,
        raw.get("run_as", exercise),
        part,
        raw.get("fit", exercise in SETS),
        tuple(raw.get("problems", ())),
        raw.get("short", False),
        tuple(raw.get("conditions", ())),
        body,
        camera,
        video,
        plan,
        _section(MachineSpec, raw.get("machine", {}), where, "machine"),
        people,
        reps,
        text,
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
        usual = RepSpec(
            plan.lift_s * scale[0],
            plan.hold_s * scale[1],
            plan.lower_s * scale[2],
            plan.rest_s * scale[3],
            lift + ends[0],
            down + ends[1],
        )
        reps.append(_rep(usual, overrides.get(str(number), {}), where, f"rep.{number}"))
    return tuple(reps)


def _rep(usual, given, where, key):
    offsets = {k: given[k] for k in given if k in OFFSETS}
    rest = {k: v for k, v in given.items() if k not in OFFSETS}
    rep = replace(_section(RepSpec, rest, where, key, usual), offsets=offsets)
    for name in ("lift_s", "lower_s"):
        if getattr(rep, name) <= 0.1:
            raise ScenarioError(f"{where}: {key}.{name} is {getattr(rep, name)}, expected more than 0.1 s")
    _choice(rep.then, ("", *KINDS), where, f"{key}.then")
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
    good = {
        "float": number,
        "float | None": number,
        "int": isinstance(value, int) and number,
        "bool": isinstance(value, bool),
        "str": isinstance(value, str),
        "tuple": isinstance(value, list),
    }
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
