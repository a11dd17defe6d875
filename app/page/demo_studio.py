"""An invented studio to look around in: members, cards, some weeks of sets, and sample clips to check.

Earlier sets carry numbers made up from the truth of a rendered clip; the sets of today are the
rendered clips themselves and go through the real check.
"""

from __future__ import annotations

import json
import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

from app.rules.told import Said, key_of, released
from app.store import queries, signin
from app.store.access import Access, NewSet
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.models import Decision, Person, Release, Report, TrainingSet
from app.store.rules import Actor
from shared.errors import UsageError
from shared.exercise import Exercise, exercise_names, find_exercise
from shared.report import (
    ClipPart,
    FindingPart,
    QualityPart,
    RepPart,
    ScalePart,
    SetReport,
    TempoPart,
)
from vision.common.prompts import CAUTIONS, member_prompt

CLIPS = Path(__file__).parents[2] / "sample_clips"
MARK = ".plumbset-demo"
TRAINER = "Runa"
#: name, height, new to the room
MEMBERS = (("Ilse", 168.0, False), ("Odo", 181.0, False), ("Bero", 174.0, True), ("Tamsin", 163.0, False))
#: Weeks ago, load, how much slower than the sample, repetitions locked out (the first one of a set was agreed
#: with, the others called no fault).
HISTORY = (
    (9, 22.5, 0.86, ()), (8, 22.5, 0.9, (3, 5, 8)), (7, 25.0, 0.88, ()), (6, 25.0, 0.95, ()),
    (5, 25.0, 0.99, (2, 4, 9, 10)), (4, 27.5, 0.96, ()), (3, 27.5, 1.02, ()), (2, 27.5, 1.04, ()),
    (1, 30.0, 1.0, (11,)),
)  # fmt: skip


def build(folder: Path) -> list[str]:
    """Make the studio in that folder unless it is there; returns what to tell on the terminal.

    Raises
    ------
    UsageError : the folder holds something else, or the sample clips are missing.
    """
    if (folder / MARK).is_file():
        return ["The demo studio is there already; plumbset demo-studio --throw-away removes it."]
    if folder.exists() and any(folder.iterdir()):
        raise UsageError(f"The folder {folder} holds something else; choose another one with --folder.")
    clips = sorted(CLIPS.glob("*.mp4"))
    if not clips:
        raise UsageError("The sample clips are missing; render them, see sample_clips/README.md.")
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARK).write_text("made by plumbset demo-studio\n", encoding="utf-8")
    database = open_database(f"sqlite:///{folder.absolute() / 'plumbset.db'}")
    try:
        migrate(database)
        links = _fill(database, Files(folder / "files"), clips)
    finally:
        database.close()
    return ["An invented studio; everyone in it is made up and rendered.", *links]


def remove(folder: Path) -> None:
    """Throw the studio away; refuses a folder that is none."""
    if not (folder / MARK).is_file():
        raise UsageError(f"There is no demo studio in {folder}.")
    shutil.rmtree(folder)


def _fill(database: Database, files: Files, clips: list[Path]) -> list[str]:
    with database.write() as session:
        people = [Person(name=TRAINER, role="trainer")]
        people += [Person(name=n, role="member", height_cm=h, beginner=new) for n, h, new in MEMBERS]
        session.add_all(people)
        session.flush()
        for person in people[1:]:
            person.consent_at = person.created_at
        trainer, *members = [Actor(p.id, p.name, p.role) for p in people]
    access = Access(database, files, trainer)
    today = datetime.now(UTC).date()
    _cards(access, members)
    _history(database, members[0], trainer=trainer, today=today)
    _clips(access, members, clips=clips, today=today)
    ilse = members[0]
    told_pain = NewSet(
        members[3].id, "chest-press", done_on=today, load=20.0, pain_before=True, pain_where="right shoulder"
    )
    access.add_set(told_pain, None)
    return [f"{ilse.name}'s personal link ends in: /enter/{_link(database, ilse)}"]


def truth_of(clip: Path) -> dict[str, Any]:
    """What the renderer wrote down of a sample clip."""
    truth: dict[str, Any] = json.loads(clip.with_suffix(".truth.json").read_text(encoding="utf-8"))
    return truth


def _link(database: Database, member: Actor) -> str:
    with database.write() as session:
        return signin.make_pass(session, "link", member.id, days=30)


def _cards(access: Access, members: list[Actor]) -> None:
    for i, member in enumerate(members):
        for j, name in enumerate(exercise_names()):
            exercise = find_exercise(name)
            seat, pad = str(2 + (i + j) % 5), str(1 + (i + 2 * j) % 4)
            settings = {"seat": seat, "back_pad": pad, "lever_pin": "3", "start_position": "pin 2"}
            limited = (i, name) == (0, "leg-extension")
            access.save_card(
                member.id, name, usual_load=20.0 + 5 * ((i + j) % 4),
                at_most_deg=150.0 if limited else None, limit_side="left" if limited else None,
                cleared=exercise.needs_clearance and i == 1,
                **{key: said for key, said in settings.items() if key in exercise.settings},
            )  # fmt: skip


def _clips(access: Access, members: list[Actor], clips: list[Path], today: date) -> None:
    """Each sample clip as a set of today; the real check picks them up."""
    for i, path in enumerate(clips):
        told = NewSet(members[i % 3].id, truth_of(path)["exercise"], done_on=today, load=30.0)
        with path.open("rb") as stream:
            access.add_set(told, stream, path.name)


def _history(database: Database, member: Actor, trainer: Actor, today: date) -> None:
    truth = truth_of(CLIPS / "leg-extension-clean.mp4")
    exercise = find_exercise(truth["exercise"])
    for weeks, load, slower, locked in HISTORY:
        report = made_up(exercise, truth["reps"], slower=slower, locked=locked)
        with database.write() as session:
            row = TrainingSet(
                person_id=member.id, exercise=exercise.name, load=load,
                done_on=today - timedelta(weeks=weeks),
                status="checked", count=report.count, feeling="right",
                uploaded_at=datetime.now(UTC) - timedelta(weeks=weeks),
            )  # fmt: skip
            session.add(row)
            session.flush()
            session.add(Report(set_id=row.id, body=report.to_json()))
            session.flush()
            queries.rate(session, row)
            keys = [key_of(finding) for finding in report.flags()]
            kinds = {key: "no-fault" if i else "agree" for i, key in enumerate(keys)}
            session.add_all(
                Decision(set_id=row.id, finding=key, kind=kind, words="", by_id=trainer.id)
                for key, kind in kinds.items()
            )
            said = {key: Said(kind, "", None) for key, kind in kinds.items()}
            told = released(report, said, pain=False, trainer=trainer.name)
            session.add(Release(set_id=row.id, body=told.to_json(), by_id=trainer.id))
            row.reviewed_at = row.uploaded_at


def made_up(
    exercise: Exercise, truth: list[dict[str, Any]], slower: float, locked: tuple[int, ...]
) -> SetReport:
    """A report of an invented set: the repetitions of a rendered clip, stretched; some knees locked."""
    reps = [_rep(one, slower * (1 + 0.03 * (i % 3))) for i, one in enumerate(truth)]
    return SetReport(
        schema="plumbset.set-report/1",
        exercise=exercise.name,
        clip=ClipPart(file="invented", duration_s=60, frames=1800, fps_mean=30, width=720, height=1280,
                      rotation_deg=0),
        quality=QualityPart(usable=True, view="side-left"),
        count=sum(not r.partial for r in reps),
        reps=reps,
        tempo=TempoPart(sentence="Invented for the demo studio."),
        findings=[_locked(exercise, r, 176.0 + r.number % 3) for r in reps if r.number in locked],
        scale=ScalePart(unit="trunk_fraction"),
        cautions=[*CAUTIONS, *exercise.cautions],
        versions={"plumbset": "demo"},
    )  # fmt: skip


def _rep(one: dict[str, Any], slower: float) -> RepPart:
    start, turn, lower, end = (one[k] for k in ("start_s", "turn_s", "lower_start_s", "end_s"))
    lift, hold, down = (slower * s for s in (turn - start, lower - turn, end - lower))
    ends = (one["drive_lift_end_deg"], one["drive_load_down_deg"])
    return RepPart(
        number=one["number"], start_s=start, turn_s=start + lift, lower_start_s=start + lift + hold,
        end_s=start + lift + hold + down, lift_s=lift, hold_s=hold, lower_s=down, rest_s=one.get("rest_s"),
        drive_min_deg=min(ends), drive_max_deg=max(ends), lift_peak_speed=80, lower_peak_speed=70,
        partial=bool(one.get("partial")),
    )  # fmt: skip


def _locked(exercise: Exercise, rep: RepPart, knee: float) -> FindingPart:
    spec = exercise.check("knee-lockout")
    words = member_prompt(spec, "flag", measured=knee, uncertainty=3.0)
    return FindingPart(
        check=spec.id, rep=rep.number, time_s=rep.turn_s, frame=None, verdict="flag", measured=knee,
        uncertainty=3.0, limit=172.0, unit="deg", prompt=words, title=spec.title,
    )  # fmt: skip
