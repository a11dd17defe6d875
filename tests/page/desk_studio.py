"""A studio with sets to review in a browser: reports made by hand, a rendered clip behind each, no worker."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from app.store import queries
from app.store.access import Access
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.models import Person, Report, TrainingSet, now
from app.store.rules import Actor
from shared.report import SetReport
from tests.store.made import DAY, report
from tests.unit.handmade import analysis
from vision.common.notices import LOOKS_LIKE

ROOT = Path(__file__).parents[2]
CLIP = ROOT / "sample_clips" / "leg-extension-faulty.mp4"
CHROMIUM = shutil.which("chromium")
#: Two faults, locked knees in two repetitions and a dropped chest in one.
TWO = report().model_copy(
    update={
        "findings": [f for f in report().findings if f.check in ("knee-lockout", "chest-drop") and f.rep != 6]
    }
)
CLEAR = report().model_copy(update={"findings": []})
UNFIT = analysis(usable=False).report
OTHER = TWO.model_copy(
    update={
        "notices": [f"{LOOKS_LIKE} chest press, not like leg extension. If so, check the clip again."],
        "other_machines": ["chest-press"],
    }
)


@dataclass(frozen=True)
class DeskStudio:
    """Runa, her members in the order of their sets, and the folder that it all lies in."""

    data: Path
    database: Database
    trainer: Access
    members: tuple[Access, ...]

    @contextmanager
    def served(self, port: int) -> Iterator[str]:
        """The page on it; its address."""
        command = [sys.executable, "-m", "app.serve", "--host", "127.0.0.1", "--port", str(port)]
        env = {**os.environ, "PLUMBSET_DATA": str(self.data), "PYTHONUNBUFFERED": "1"}
        env.pop("PLUMBSET_DATABASE_URL", None)
        page = subprocess.Popen(
            command, cwd=ROOT, env=env, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        try:
            assert page.stdout is not None
            while "URL:" not in (line := page.stdout.readline()):
                assert line, "the page did not start"
            yield f"http://127.0.0.1:{port}"
        finally:
            page.terminate()
            page.communicate()


def desk_studio(data: Path, reports: Sequence[SetReport]) -> DeskStudio:
    """A set a report, each of a member of its own, the first one waiting longest."""
    database = open_database(f"sqlite:///{data / 'plumbset.db'}")
    migrate(database)
    files = Files(data / "files")
    with CLIP.open("rb") as stream:
        clip = files.keep(stream)
    names = ("Ilse", "Odo", "Bero", "Tamsin", "Wenke")[: len(reports)]
    with database.write() as session:
        people = [Person(name="Runa", role="trainer"), *(Person(name=n, role="member") for n in names)]
        session.add_all(people)
        session.flush()
        actors = [Actor(p.id, p.name, p.role) for p in people]
        for i, (made, actor) in enumerate(zip(reports, actors[1:], strict=True)):
            row = TrainingSet(
                person_id=actor.id, exercise="leg-extension", done_on=DAY, count=made.count, clip=clip,
                status="checked" if made.quality.usable else "unfit",
                uploaded_at=now() - timedelta(hours=len(reports) - i),
            )  # fmt: skip
            session.add(row)
            session.flush()
            session.add(Report(set_id=row.id, body=made.to_json(), annotated=clip))
            session.flush()
            queries.rate(session, row)
    trainer, *members = [Access(database, files, actor) for actor in actors]
    return DeskStudio(data, database, trainer, tuple(members))
