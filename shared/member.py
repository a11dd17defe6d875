"""One member's own yardstick: a small TOML or JSON file whose limits override the definition's.

It holds no name and nothing of a person but numbers; which file belongs to whom is the trainer's
business. Limits go by exercise and check; ``range`` bounds the drive itself, in degrees.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, ValidationError

from shared.definition import MOST_NAMED, Strict, checked, faults_of, hint, read_json, read_toml
from shared.errors import DefinitionError
from shared.exercise import FOLDER, CheckSpec, Exercise, Tempo, exercise_names, load_exercise
from shared.keypoints import Side
from shared.limit import Limit
from shared.own_range import ANGLES, SIDES, SOURCE, Range, range_checks


class Own(Strict):
    """What differs for this member on one exercise. tempo: asked of them there.

    range: for both sides; left, right: in its place for that side. usual_range: degrees of a full
    repetition; reference: report.json of an approved set, beside this file or by its path.
    """

    limits: dict[str, Limit] = Field(default_factory=dict)
    range: Range | None = None
    left: Range | None = None
    right: Range | None = None
    usual_range: Annotated[float, Field(ge=5, le=200)] | None = None
    reference: str | None = None
    tempo: Tempo | None = None

    def range_of(self, side: Side) -> Range | None:
        """What bounds the drive on one side."""
        return (self.left if side == "left" else self.right) or self.range


class Member(Strict):
    """The file: whether the member is new, the tempo asked of them, and what is theirs on each exercise."""

    schema_: Literal["plumbset.member/1"] = Field("plumbset.member/1", alias="schema")
    new: bool = False
    tempo: Tempo | None = None
    exercises: dict[str, Own] = Field(default_factory=dict)

    def own(self, exercise: str) -> Own:
        """What differs on one exercise; nothing when the file does not name it."""
        return self.exercises.get(exercise, Own())


def read_member(path: Path, exercise: Exercise) -> Member:
    """Read a member's file and check every limit in it against the exercise that it names.

    exercise: the one to be checked now, which may be the user's own definition.

    Raises
    ------
    DefinitionError : naming the file and, for every fault, the key and what is wrong with it.
    """
    member = checked(Member, _read(path), path)
    faults: list[tuple[str, str]] = []
    names = {exercise.name: exercise, **dict.fromkeys(exercise_names())}
    for name in member.exercises:
        if len(faults) >= MOST_NAMED:
            break
        if name not in names:
            faults.append((f"exercises.{name}", f"there is no such exercise{hint(name, names)}"))
            continue
        definition = names[name] or load_exercise(FOLDER / f"{name}.toml")
        faults += [
            (f"exercises.{name}.{key}", said)
            for key, said in islice(_misfits(definition, member.own(name)), MOST_NAMED)
        ]
    if faults:
        raise DefinitionError(path, faults)
    return member


def _read(path: Path) -> Any:
    return read_json(path) if path.suffix.lower() == ".json" else read_toml(path)


def _misfits(exercise: Exercise, own: Own) -> Iterator[tuple[str, str]]:
    """(key, what is wrong) of everything that the exercise cannot take."""
    specs = {spec.id: spec for spec in exercise.checks}
    for check, limit in own.limits.items():
        if check not in specs:
            yield f"limits.{check}", f"{exercise.name} has no such check{hint(check, specs)}"
            continue
        usual = specs[check].limit
        for side in ("at_least", "at_most"):
            if getattr(limit, side) is not None and getattr(usual, side) is None:
                yield f"limits.{check}.{side}", "this check has no such side; bound the movement with range"
        try:
            _with_limit(specs[check], limit)
        except ValidationError as error:
            yield f"limits.{check}", faults_of(error)[0][1]
    kind = exercise.signals[exercise.drive.signal].kind
    for name in ("range", "left", "right"):
        if getattr(own, name) is not None and kind not in ANGLES:
            yield name, f"is in degrees, and {exercise.name} is counted by {kind}"


def with_member(exercise: Exercise, member: Member, side: Side | None = None) -> Exercise:
    """The exercise as it is for this member; ``read_member`` has checked that the limits fit.

    side: the one that the clip shows, None where it shows both as one, as from the front: what then holds
    for one side alone cannot be told. A check on an end of the drive gives way where the member's own range
    of the side that is judged bounds that end. A member who
    is new gets the stricter limit of a check that has one; their own limit comes before it, and before the
    tempo that is asked: on this exercise, of the member anywhere, or of everyone on this exercise.
    """
    own = member.own(exercise.name)
    tempo = own.tempo or member.tempo or exercise.tempo
    if tempo is not None:
        exercise = _with_tempo(exercise, tempo, set(own.limits))
    specs = [_for_new(s) if member.new else s for s in exercise.checks]
    specs = [_with_limit(s, own.limits[s.id]) if s.id in own.limits else s for s in specs]
    added = list(range_checks(exercise, {one: own.range_of(one) for one in SIDES}, side))
    ends = {check.params["which"] for check in added if "which" in check.params}
    specs = [s for s in specs if not _bounds_end(s, exercise.drive.signal, ends)] + added
    return exercise.model_copy(update={"checks": tuple(specs)})


def _with_tempo(exercise: Exercise, tempo: Tempo, own: set[str]) -> Exercise:
    """The exercise as it is where that tempo is asked; own: checks with a limit of the member's own."""
    words = {
        **exercise.motion.model_dump(),
        **{k: f"{v:g} second{'s' * (v != 1)}" for k, v in tempo.model_dump().items()},
    }

    def asked(spec: CheckSpec) -> CheckSpec:
        if not spec.with_tempo or spec.id in own:
            return spec
        prompt = spec.with_tempo.get("prompt")
        named = None if prompt is None else prompt.format(**words)
        of_tempo = {"prompt": named, "params": tempo.model_dump(), "with_tempo": {}}
        return spec.changed(**spec.with_tempo | of_tempo)

    return exercise.model_copy(update={"tempo": tempo, "checks": tuple(map(asked, exercise.checks))})


def _for_new(spec: CheckSpec) -> CheckSpec:
    if spec.new_member_limit is None:
        return spec
    return spec.model_copy(update={"limit": spec.new_member_limit})


def _with_limit(spec: CheckSpec, limit: Limit) -> CheckSpec:
    sides = {side: getattr(limit, side) for side in ("at_least", "at_most")}
    merged = {side: getattr(spec.limit, side) if value is None else value for side, value in sides.items()}
    return spec.changed(limit=Limit(**merged), source=SOURCE)


def _bounds_end(spec: CheckSpec, drive: str, ends: set[str]) -> bool:
    return spec.measure == "angle_at_end" and spec.signal == drive and spec.params.get("which", "max") in ends
