"""Exercise definitions: the only reader of exercise TOML files.

An exercise is one TOML file in ``shared/exercises/``. Each of its checks names a fault; whatever
the file leaves out of a check is taken from the catalogue of faults, ``shared/faults.toml``, so
that a limit, its source and its reason stand in one place for all machines. This module checks
shape and ranges; names of signals and measures are resolved by ``vision.judging.bind``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from pathlib import Path
from string import Formatter
from typing import Annotated, Any, Literal, get_args

from pydantic import Field, ValidationError, field_validator, model_validator

from shared.definition import Strict, Text, faults_of, hint, read_text, read_toml
from shared.domain import Unit
from shared.drawing import Drawing
from shared.drive import Drive
from shared.errors import DefinitionError, UsageError
from shared.faults import USUAL_ORDER, completed
from shared.limit import Limit
from shared.tags import MACHINES

FOLDER = Path(__file__).parent / "exercises"
CameraView = Literal["side", "front", "rear"]
Setting = Literal["seat", "back_pad", "lever_pin", "start_position", "thigh_pad", "grip", "foot_support"]
#: One line of a wall card.
Line = Annotated[str, Field(min_length=3, max_length=110)]
Hands = Literal["still", "overhead", "level", "parting"]
PLACEHOLDERS = ("value",)
#: The part of a prompt with its number, ``[ by {value}]``: left out where the number is not fit for a member.
NUMBERED = re.compile(r"\[([^][{}]*\{value\}[^][{}]*)\]")


class Source(Strict):
    """Where a limit comes from."""

    kind: Literal["published", "common practice"]
    cite: Text


class CheckSpec(Strict):
    """One check: what is measured, against which limit, and what it is called.

    max_uncertainty: the widest 90 % half-width that still allows a verdict, in the limit's unit
    (for lengths: centimetres, scaled like the limit). new_member_limit: stands instead for a member who
    is new to the machines. with_mark: fields that stand instead where a point of the machine was marked;
    with_tempo: where a tempo was asked, which its prompt names (``{lift_s}``, ``{lift}``).
    detect_margin: how far beyond the limit a fault must be for the stated recall. partial: whether
    partial repetitions are judged as well. lockout: a joint pressed straight, which the set's other ends tell
    beside the angle. Of the catalogue alone: grave: a joint is taken to its end under load; fact: no fault,
    so never flagged; order: which fault to speak of first, the smaller the sooner; joins: faults of which
    this is another sight. question: at most one for the trainer, never a flag. what: ``{name}`` in it is that
    parameter of the check's signal. asks: about seat, pad or lever, for the trainer; asks_of_ends: of the
    first and the last repetition, in which the load is taken up and put down.
    prompt: second person, one cue, and the number, if any, in square brackets (``NUMBERED``), its unit
    comes with it; None when a member gets no prompt for it. good: what is true of a repetition without the
    fault, ``Knees good``, before "in 10 of 12 reps".
    """

    id: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    title: Text
    measure: Text
    signal: str | None = None
    views: tuple[CameraView, ...] = ("side", "front", "rear")
    params: dict[str, Any] = Field(default_factory=dict)
    limit: Limit
    new_member_limit: Limit | None = None
    with_mark: dict[str, dict[str, Any]] = Field(default_factory=dict)
    with_tempo: dict[str, Any] = Field(default_factory=dict)
    unit: Unit
    max_uncertainty: Annotated[float, Field(gt=0)]
    detect_margin: Annotated[float, Field(ge=0)]
    partial: bool = False
    grave: bool = False
    lockout: bool = False
    fact: bool = False
    order: int = USUAL_ORDER
    joins: tuple[str, ...] = ()
    question: bool = False
    what: Text
    why: Text
    cannot_tell: Text
    prompt: Text | None = None
    good: Text | None = None
    asks: Text | None = None
    asks_of_ends: bool = False
    source: Source

    @field_validator("prompt")
    @classmethod
    def _known_placeholders(cls, prompt: str | None) -> str | None:
        try:
            used = {name for _, name, _, _ in Formatter().parse(prompt or "") if name is not None}
        except ValueError as error:
            raise ValueError(f"has an unmatched brace: {error}") from error
        unknown = sorted(used - set(PLACEHOLDERS))
        if unknown:
            known = ", ".join("{" + name + "}" for name in PLACEHOLDERS)
            raise ValueError(f"{{{unknown[0]}}} is no placeholder (there are: {known})")
        if set("[]{}") & set(NUMBERED.sub("", prompt or "")):
            raise ValueError("needs {value} in square brackets with its words, such as [ by {value}]")
        return prompt

    def changed(self, **fields: Any) -> CheckSpec:
        """The check with these fields in place of its own, held against the same rules."""
        return CheckSpec(**dict(self) | fields)

    def other_signals(self) -> list[tuple[str, str]]:
        """Parameter and name of the signals that the check looks at beside its own."""
        also = self.params.get("also", ())
        named = [(f"also.{i}", name) for i, name in enumerate(also) if isinstance(name, str)]
        shift = self.params.get("shift")
        return [*named, ("shift", shift)] if isinstance(shift, str) else named

    @model_validator(mode="after")
    def _length_has_both_units(self) -> CheckSpec:
        if (self.unit in ("cm", "trunk_fraction")) != self.limit.is_length:
            raise ValueError("a length limit, and only that, gives both cm and trunk_fraction")
        return self


class SignalSpec(Strict):
    """One signal: a kind registered in ``vision/measuring/signals/signal.py`` and its parameters."""

    kind: Text
    params: dict[str, Any] = Field(default_factory=dict)


Seconds = Annotated[float, Field(ge=0.5, le=20)]


class Tempo(Strict):
    """The tempo that is asked: seconds in which the load goes up, and in which it comes down."""

    lift_s: Seconds
    lower_s: Seconds


class Motion(Strict):
    """Which way the limbs go while the load rises, and while it comes down, in a word each."""

    lift: Annotated[str, Field(min_length=2)] = "up"
    lower: Annotated[str, Field(min_length=2)] = "down"


class ViewSpec(Strict):
    """An accepted camera view and how to film it."""

    name: CameraView
    film: Text


class Exercise(Strict):
    """One machine, one movement, and everything the tool knows of it.

    limbs: parts that must be in the picture and seen; may_hide: those of them that the body itself hides
    at one end, so that a guessed place is better than none; seated: who stands is not on the machine;
    thighs_on_seat: they lie there throughout.
    hands: how they travel, by which a clip of another machine is told: still while the legs work, up and down
    over the shoulders, forward and back on one level, or parting and closing on one level; None where the
    movement is none of these, and nothing is guessed. motion: what tempo calls lift and lower. tempo: the one
    asked of whoever has none of their own.
    tired_after: machines after which it comes tired on one day, for the question about the load.
    circuit_place: its place on the usual circuit; None: after the others. tag_number: whose printed tags are
    its own (``shared.tags``); None: it has none. settings: what the settings card asks; setup, getting_out:
    how to get in and out, a sentence a step; cues: what to think of meanwhile.
    drawing: the posture as the first view shows it. cautions: the machine's own, most important first.
    """

    schema_: Literal["plumbset.exercise/1"] = Field(alias="schema")
    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]*$")]
    title: Text
    trains: Text
    needs_clearance: bool = False
    arm_pads: bool = False
    seated: bool = False
    thighs_on_seat: bool = False
    target_reps: tuple[int, int] = (12, 15)
    tired_after: tuple[Text, ...] = ()
    circuit_place: Annotated[int, Field(ge=1, strict=True)] | None = None
    tag_number: Annotated[int, Field(ge=1, le=MACHINES, strict=True)] | None = None
    settings: tuple[Setting, ...] = get_args(Setting)
    setup: Annotated[tuple[Line, ...], Field(max_length=5)] = ()
    getting_out: Annotated[tuple[Line, ...], Field(max_length=3)] = ()
    cues: Annotated[tuple[Line, ...], Field(max_length=3)] = ()
    hands: Hands | None = None
    motion: Motion = Motion()
    tempo: Tempo | None = None
    drawing: Drawing | None = None
    views: Annotated[tuple[ViewSpec, ...], Field(min_length=1)]
    limbs: Annotated[tuple[str, ...], Field(min_length=1)]
    may_hide: tuple[str, ...] = ()
    drive: Drive
    signals: dict[str, SignalSpec]
    checks: tuple[CheckSpec, ...]
    cautions: tuple[Text, ...] = ()

    @field_validator("target_reps")
    @classmethod
    def _rising(cls, target: tuple[int, int]) -> tuple[int, int]:
        if target[0] > target[1]:
            raise ValueError("the first number must not be larger than the second")
        return target

    @model_validator(mode="after")
    def _names_meet(self) -> Exercise:
        wanted = {"drive.signal": self.drive.signal}
        wanted |= {f"checks.{c.id}.signal": c.signal for c in self.checks if c.signal is not None}
        wanted |= {f"checks.{c.id}.params.{k}": name for c in self.checks for k, name in c.other_signals()}
        for key, name in wanted.items():
            if name not in self.signals:
                raise ValueError(f"{key}: no signal {name!r} in this file{hint(name, self.signals)}")
        ids = [c.id for c in self.checks]
        double = sorted({i for i in ids if ids.count(i) > 1})
        if double:
            raise ValueError(f"checks: {', '.join(double)} stands twice")
        return self

    @property
    def drive_joint(self) -> str | None:
        """The joint whose angle counts the repetitions; None where something else does."""
        joint = self.signals[self.drive.signal].params.get("joint")
        return joint if isinstance(joint, str) else None

    def check(self, check_id: str) -> CheckSpec:
        """The check with that id; KeyError when the exercise has none."""
        for spec in self.checks:
            if spec.id == check_id:
                return spec
        raise KeyError(check_id)


def load_exercise(path: Path) -> Exercise:
    """Read and check one definition file.

    Raises
    ------
    DefinitionError : naming the file and, for every fault, the key and what is wrong with it.
    """
    data = read_toml(path)
    if isinstance(data.get("checks"), list):
        data["checks"] = completed(path, data, Exercise.model_fields["target_reps"].default)
    try:
        return Exercise.model_validate(data)
    except ValidationError as error:
        faults = faults_of(error, read_text(path))
        raise DefinitionError(path, [(_by_id(key, data), said) for key, said in faults]) from error


def _by_id(key: str, data: dict[str, Any]) -> str:
    """``checks.too-fast.limit`` for ``checks.1.limit``: a check goes by its id, where it has one."""
    table, _, rest = key.partition(".")
    place, dot, rest = rest.partition(".")
    if table != "checks" or not place.isdigit():
        return key
    entry = data["checks"][int(place)]
    name = entry.get("id", f"number {int(place) + 1}") if isinstance(entry, dict) else place
    return f"checks.{name}{dot}{rest}"


def exercise_names() -> list[str]:
    """Names of the exercises that come with the project, sorted."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


def tagged_exercise(number: int) -> Exercise | None:
    """The exercise that ships whose printed tags have this number, None where none has."""
    return next((e for e in map(find_exercise, exercise_names()) if e.tag_number == number), None)


def circuit_order(exercises: Iterable[Exercise]) -> list[Exercise]:
    """By their places on the circuit; those without one after the others, by title.

    Several joints before one, upper and lower body in turn. Common practice, no published source for this
    very order; ACSM position stand 2009 (Med Sci Sports Exerc 41:687) asks for large muscle groups before
    small and several joints before one (from memory).
    """
    return sorted(exercises, key=lambda e: (e.circuit_place or math.inf, e.title))


def find_exercise(name_or_path: str) -> Exercise:
    """An exercise by name, or by the path of a TOML file of the user's own."""
    if name_or_path in exercise_names():
        shipped = load_exercise(FOLDER / f"{name_or_path}.toml")
        if shipped.name != name_or_path:
            said = f"must be {name_or_path!r}, as the file is called"
            raise DefinitionError(FOLDER / f"{name_or_path}.toml", [("name", said)])
        return shipped
    path = Path(name_or_path)
    if path.suffix == ".toml":
        return load_exercise(path)
    near = hint(name_or_path, exercise_names())
    raise UsageError(f"There is no exercise {name_or_path!r}{near}; or give the path of a TOML file.")
