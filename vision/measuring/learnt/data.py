"""What was learnt of an exercise from rendered sets with exact truth: ``vision/data/<exercise>.toml``.

All half-widths are of 90 % intervals. An exercise without a file of its own, or a quantity that its file
leaves out, gets the widest half-width known of any exercise for that kind of signal: never surer than
what was measured. The commands in ``sample_clips/learning`` write the files.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from shared.definition import checked, read_toml

FOLDER = Path(__file__).parents[2] / "data"
#: Of a joint that no exercise was learnt for: the hip was not measured, a wide guess.
UNLEARNT_JOINT_DEG = 20.0
#: Half-width of a lift's or lower's duration (s) where nothing was learnt, and the least of a stranger's.
UNLEARNT_DURATION_S = 0.30
#: Of the ratio of one turn's deceleration, and of a repetition's share of the usual range, likewise.
UNLEARNT_TURN_RATIO, UNLEARNT_RANGE_PERCENT = 1.3, 15.0
NOT_CALIBRATED = (
    "This machine has not been measured on sets with known truth: every number has the widest give or take "
    "known for its kind."
)


class Change(BaseModel):
    """A departure from the set's own usual course (``vision/judging/usual_course.py``).

    half_width: degrees, or trunk lengths for a length; follows: by which share the landmarks follow a
    change that is really there.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    half_width: float = Field(gt=0)
    follows: float = Field(default=1.0, gt=0, le=1)


class Learnt(BaseModel):
    """Half-widths of one exercise; learnt_on says from which clips, by table.

    joint_deg: of a raw joint angle at both ends of the drive, by joint; drive_deg: of the corrected drive
    there, by view, at least; drive_span: from where to where its range lies in most sets, degrees, by view.
    duration_s: of one lift or lower. range_percent: of one repetition's share of the usual range.
    turn_ratio: of one turn's deceleration over the set's median. place_trunk: of a place in trunk lengths,
    by kind of signal and point. change: by kind of signal.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    learnt_on: dict[str, str]
    duration_s: float = Field(gt=0)
    turn_ratio: float = Field(gt=0)
    range_percent: float = Field(default=UNLEARNT_RANGE_PERCENT, gt=0)
    drive_deg: dict[str, float] = Field(default_factory=dict)
    drive_span: dict[str, tuple[float, float]] = Field(default_factory=dict)
    joint_deg: dict[str, float] = Field(default_factory=dict)
    place_trunk: dict[str, dict[str, float]] = Field(default_factory=dict)
    change: dict[str, Change] = Field(default_factory=dict)

    def raw_deg(self, joint: str) -> float:
        """Half-width of the drive's raw angle, no surer than the corrected one; 0 for another joint."""
        return max([self.joint_deg[joint], *self.drive_deg.values()]) if joint in self.joint_deg else 0.0

    def place(self, kind: str, point: str) -> float | None:
        """Half-width of a place; of a point that is not known the widest of its kind, None for none."""
        points = self.place_trunk.get(kind, {})
        return points.get(point, max(points.values(), default=None))


def has_data(exercise: str) -> bool:
    """Whether an exercise of that name was learnt."""
    return (FOLDER / f"{exercise}.toml").is_file()


@lru_cache
def load_learnt(exercise: str) -> Learnt:
    """What was learnt of an exercise, gaps filled by the widest known.

    Raises DefinitionError for a file that cannot be read.
    """
    widest = _widest()
    if not has_data(exercise):
        return widest
    own = _read(FOLDER / f"{exercise}.toml")
    places = {
        kind: widest.place_trunk.get(kind, {}) | own.place_trunk.get(kind, {})
        for kind in widest.place_trunk | own.place_trunk
    }
    merged = {
        "joint_deg": widest.joint_deg | own.joint_deg,
        "place_trunk": places,
        "change": widest.change | own.change,
    }
    if "range_percent" not in own.learnt_on:
        merged["range_percent"] = widest.range_percent
    return own.model_copy(update=merged)


def _read(path: Path) -> Learnt:
    return checked(Learnt, read_toml(path), path)


@lru_cache
def _widest() -> Learnt:
    """The widest half-width of all exercises for each quantity.

    Where landmarks follow by unlike shares the largest is taken, so that no change is told larger than it
    may be; a point's half-width is the widest of its kind.
    """
    files = [_read(path) for path in sorted(FOLDER.glob("*.toml"))]
    changes = {kind for one in files for kind in one.change}
    return Learnt(
        learnt_on={},
        duration_s=max([UNLEARNT_DURATION_S, *(one.duration_s for one in files)]),
        turn_ratio=max([UNLEARNT_TURN_RATIO, *(one.turn_ratio for one in files)]),
        range_percent=max([UNLEARNT_RANGE_PERCENT, *(one.range_percent for one in files)]),
        joint_deg={
            joint: max(one.raw_deg(joint) for one in files)
            for joint in {joint for one in files for joint in one.joint_deg}
        },
        place_trunk={
            kind: {"": max(v for one in files for v in one.place_trunk.get(kind, {}).values())}
            for kind in {kind for one in files for kind in one.place_trunk}
        },
        change={
            kind: Change(
                half_width=max(one.change[kind].half_width for one in files if kind in one.change),
                follows=max(one.change[kind].follows for one in files if kind in one.change),
            )
            for kind in changes
        },
    )
