"""Earlier sets of the demo studio, made up from the truth of rendered clips: nothing of them was filmed."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import cycle, islice
from pathlib import Path
from typing import Any

from app.rules.states import DecisionKind
from app.rules.told import Said, key_of, released
from app.store import queries
from app.store.database import Database
from app.store.models import Decision, Release, Report, TrainingSet
from app.store.rules import Actor
from shared.exercise import CheckSpec, Exercise, find_exercise
from shared.report import ClipPart, FindingPart, QualityPart, RepPart, ScalePart, SetReport, TempoPart
from vision.common.cautions import CAUTIONS
from vision.common.prompts import member_prompt

CLIPS = Path(__file__).parents[2] / "sample_clips"


@dataclass(frozen=True)
class Past:
    """One earlier set. member: place in the list of members; lift, lower: how much slower than the clip's.

    locked: repetitions whose joint went straight; agreed: how many of these flags the trainer agreed with,
    the others were called no fault.
    """

    member: int
    exercise: str
    days_ago: int
    load: float
    reps: int = 12
    lift: float = 1.0
    lower: float = 1.0
    locked: tuple[int, ...] = ()
    agreed: int = 1
    felt: str = "right"


def _weeks(weeks: int, load: float, lower: float, locked: tuple[int, ...] = ()) -> Past:
    return Past(0, "leg-extension", 7 * weeks, load, lift=1.04, lower=lower, locked=locked)


#: Ilse lowers more quickly since the load went up; Odo is due for a question; Bero's elbows lock since it
#: went up; Wenke comes tired to the last press.
HISTORY = (
    _weeks(9, 22.5, 1.3), _weeks(8, 22.5, 1.35, (3, 5, 8)), _weeks(7, 25.0, 1.3), _weeks(6, 25.0, 1.25),
    _weeks(5, 25.0, 1.3, (2, 4, 9, 10)), _weeks(4, 27.5, 1.25), _weeks(3, 27.5, 1.3), _weeks(2, 30.0, 0.95),
    _weeks(1, 30.0, 0.9, (11,)),
    Past(1, "lat-pulldown", 5, 37.5, reps=15, felt="easy"),
    Past(1, "lat-pulldown", 2, 37.5, reps=16, felt="easy"),
    Past(2, "chest-press", 16, 20.0), Past(2, "chest-press", 9, 20.0, reps=15),
    Past(2, "chest-press", 5, 22.5, locked=(7, 9), agreed=2),
    Past(2, "chest-press", 2, 22.5, locked=(5, 8, 11), agreed=3, felt="hard"),
    Past(4, "chest-press", 4, 20.0, reps=13), Past(4, "shoulder-press", 4, 15.0, reps=15),
    Past(4, "chest-press", 2, 20.0, reps=13), Past(4, "shoulder-press", 2, 15.0, reps=15),
)  # fmt: skip


def truth_of(clip: Path) -> dict[str, Any]:
    """What the renderer wrote down of a sample clip."""
    truth: dict[str, Any] = json.loads(clip.with_suffix(".truth.json").read_text(encoding="utf-8"))
    return truth


def fill(database: Database, members: Sequence[Actor], trainer: Actor, today: date) -> None:
    """Put the earlier sets in the store, looked at and handed over."""
    for past in HISTORY:
        exercise = find_exercise(past.exercise)
        report = made_up(exercise, past)
        with database.write() as session:
            row = TrainingSet(
                person_id=members[past.member].id, exercise=exercise.name, load=past.load,
                done_on=today - timedelta(days=past.days_ago), status="checked", count=report.count,
                feeling=past.felt, uploaded_at=datetime.now(UTC) - timedelta(days=past.days_ago),
            )  # fmt: skip
            session.add(row)
            session.flush()
            session.add(Report(set_id=row.id, body=report.to_json()))
            session.flush()
            queries.rate(session, row)
            keys = [key_of(finding) for finding in report.flags()]
            kinds: dict[str, DecisionKind] = {
                key: "agree" if i < past.agreed else "no-fault" for i, key in enumerate(keys)
            }
            session.add_all(
                Decision(set_id=row.id, finding=key, kind=kind, words="", by_id=trainer.id)
                for key, kind in kinds.items()
            )
            said = {key: Said(kind, "", None) for key, kind in kinds.items()}
            told = released(report, said, pain=False, trainer=trainer.name)
            session.add(Release(set_id=row.id, body=told.to_json(), by_id=trainer.id))
            row.reviewed_at = row.uploaded_at


def made_up(exercise: Exercise, past: Past) -> SetReport:
    """A report of an invented set: the full repetitions of a rendered clip again, slower; some locked."""
    truth = truth_of(CLIPS / f"{exercise.name}-clean.mp4")["reps"]
    full = islice(cycle([one for one in truth if not one.get("partial")]), past.reps)
    reps: list[RepPart] = []
    for i, one in enumerate(full):
        start = reps[-1].end_s + (reps[-1].rest_s or 0.0) if reps else one["start_s"]
        reps.append(_rep(one, i, start, past))
    return SetReport(
        schema="plumbset.set-report/1",
        exercise=exercise.name,
        clip=ClipPart(file="invented", duration_s=90, frames=2700, fps_mean=30, width=720, height=1280,
                      rotation_deg=0),
        quality=QualityPart(usable=True, view="side-left"),
        count=len(reps),
        reps=reps,
        tempo=TempoPart(sentence="Invented for the demo studio."),
        findings=_locked(exercise, [r for r in reps if r.number in past.locked]),
        scale=ScalePart(unit="trunk_fraction"),
        cautions=[*CAUTIONS, *exercise.cautions],
        versions={"plumbset": "demo"},
    )  # fmt: skip


def _rep(one: dict[str, Any], place: int, start: float, past: Past) -> RepPart:
    differs = 1 + 0.03 * (place % 3)
    lift, hold = past.lift * differs * one["lift_s"], one["hold_s"]
    down = past.lower * differs * one["lower_s"]
    ends = (one["drive_lift_end_deg"], one["drive_load_down_deg"])
    return RepPart(
        number=place + 1, start_s=start, turn_s=start + lift, lower_start_s=start + lift + hold,
        end_s=start + lift + hold + down, lift_s=lift, hold_s=hold, lower_s=down, rest_s=one.get("rest_s"),
        drive_min_deg=min(ends), drive_max_deg=max(ends), lift_peak_speed=80, lower_peak_speed=70,
        partial=False,
    )  # fmt: skip


def _locked(exercise: Exercise, reps: Sequence[RepPart]) -> list[FindingPart]:
    spec = next(spec for spec in exercise.checks if spec.grave)
    limit = spec.limit.resolved(False)[1] or 0.0
    return [_flag(spec, r, limit=limit, measured=limit + 4 + r.number % 3) for r in reps]


def _flag(spec: CheckSpec, rep: RepPart, limit: float, measured: float) -> FindingPart:
    words = member_prompt(spec, "flag", measured=measured, uncertainty=3.0)
    return FindingPart(
        check=spec.id, rep=rep.number, time_s=rep.turn_s, frame=None, verdict="flag", measured=measured,
        uncertainty=3.0, limit=limit, unit="deg", prompt=words, title=spec.title,
    )  # fmt: skip
