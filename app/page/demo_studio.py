"""An invented studio to look around in: members, cards, some weeks of sets, and sample clips to check.

Earlier sets carry numbers made up from the truth of a rendered clip; the sets of today are the
rendered clips themselves and go through the real check.
"""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from app.page.demo_history import CLIPS, fill, truth_of
from app.rules import studio_file
from app.store import signin
from app.store.access import Access, NewSet
from app.store.base import today as the_day
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.models import Person
from app.store.rules import Actor
from shared.errors import UsageError
from shared.exercise import exercise_names, find_exercise

MARK = ".plumbset-demo"
TRAINER = "Runa"
#: So long ago everyone joined: before their first set.
JOINED = timedelta(days=70)
#: name, height, new to the room
MEMBERS = (("Ilse", 168.0, False), ("Odo", 181.0, False), ("Bero", 174.0, True), ("Tamsin", 163.0, False),
           ("Wenke", 170.0, False))  # fmt: skip

#: The stacks of the invented room.
STUDIO = """[load.stack]
unit = "kg"
start = 7.5
step = 7.5
add_on = 2.5
"""


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
    (folder / studio_file.NAME).write_text(STUDIO, encoding="utf-8")
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
            person.created_at = person.consent_at = datetime.now(UTC) - JOINED
        trainer, *members = [Actor(p.id, p.name, p.role) for p in people]
    access = Access(database, files, trainer)
    today = the_day()
    _cards(access, members)
    fill(database, members, trainer, today)
    _clips(access, members, clips=clips, today=today)
    ilse = members[0]
    told_pain = NewSet(
        members[3].id, "chest-press", done_on=today, load=20.0, pain_before=True, pain_where="right shoulder"
    )
    access.add_set(told_pain, None)
    return [f"{ilse.name}'s personal link, for a private window, ends in: /enter/{_link(database, ilse)}"]


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
                left_at_most_deg=150.0 if limited else None,
                cleared=exercise.needs_clearance and i == 1,
                **{key: said for key, said in settings.items() if key in exercise.settings},
            )  # fmt: skip


def _clips(access: Access, members: list[Actor], clips: list[Path], today: date) -> None:
    """Each sample clip as a set of today; the real check picks them up."""
    for i, path in enumerate(clips):
        told = NewSet(members[i % 3].id, truth_of(path)["exercise"], done_on=today, load=30.0)
        with path.open("rb") as stream:
            access.add_set(told, stream, path.name)
