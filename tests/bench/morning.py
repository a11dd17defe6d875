"""Command: python -m tests.bench.morning [NAME] --out DIR [--clips DIR] [--without-tags] [--kill].

Composes the morning of ``morning.toml``, drops it into a folder that ``plumbset watch --studio`` watches, has
the page's own queue check what it kept, and holds the store against the truth: whose sets, counts, what the
tags proved, what else lies on the disk, time, memory.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import select

from app.jobs.runner import Runner
from app.page.proof_page import proof_page
from app.rules.proof import agreements, trust
from app.store.access import Access
from app.store.belongings import referenced
from app.store.database import Database, migrate, open_database
from app.store.files import Files
from app.store.found_tables import MemberCard
from app.store.models import Person, TrainingSet
from app.store.remote import files_of
from app.store.rules import Actor
from app.store.settings import DATA, StoreSettings, store_settings
from app.store.verify import verify
from sample_clips import tagged
from sample_clips.recordings import HERE, compose, read_plan

PLAN = Path(__file__).with_name("morning.toml")
MEMBERS = ("Mara", "Ilse", "Nilo")
#: As its clips are drawn; without tags it has to be named.
MACHINE = "leg-extension"
TAGGED_SIDE = 1080


def main() -> None:
    """Print what came of the morning as JSON, and write the proof as a page."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.morning")
    parser.add_argument("name", nargs="?", default="morning", help="of the plan: morning or crossed")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--clips", type=Path, action="append", default=[HERE, HERE / "bench" / "rendered"])
    parser.add_argument("--without-tags", action="store_true", help="the same, and the machine is named")
    parser.add_argument("--kill", action="store_true", help="kill -9 the command after its first set, once")
    chosen = parser.parse_args()
    plan = next(one for one in read_plan(PLAN) if one["name"] == chosen.name)
    recording = chosen.out / f"{chosen.name}.mp4"
    if not recording.exists():
        folders = drawn(plan, chosen.out / "clips", chosen.clips, tags=not chosen.without_tags)
        compose(plan["part"], recording, folders)
    truth = json.loads(recording.with_suffix(".truth.json").read_text())
    data = chosen.out / "data"
    shutil.rmtree(data, ignore_errors=True)
    os.environ[DATA] = str(data.absolute())
    settings = store_settings()
    opened = studio(settings)
    watched = watch(recording, chosen.out / "watched", chosen.without_tags, chosen.kill)
    checked = check(settings)
    told = held(*opened, truth["sets"], chosen.out)
    row = {"duration_s": truth["duration_s"], "watch": watched, "checks": checked, **told}
    print(json.dumps(row, indent=1))
    (chosen.out / "measured.json").write_text(json.dumps(row, indent=1) + "\n")


def drawn(plan: dict, out: Path, folders: list[Path], tags: bool) -> list[Path]:
    """The plan's clips at 1080p, with tags or without; the folders to compose from."""
    out.mkdir(parents=True, exist_ok=True)
    for name in sorted({part["clip"] for part in plan["part"] if "clip" in part}):
        clip = next(folder / f"{name}.mp4" for folder in folders if (folder / f"{name}.mp4").exists())
        if not (out / clip.name).exists():
            scene = tagged.Scene(clip)
            if not tags:
                scene.stick = lambda *_: None
            tagged.draw(scene, clip, out, short_side=TAGGED_SIDE)
    return [out]


def studio(settings: StoreSettings, silent: str = "") -> tuple[Database, Files, Access]:
    """A new store with its members: they have cards, agreed to be filmed, and said that nothing hurts.

    silent: who did not say it yet.
    """
    settings.data.mkdir(parents=True)
    database, files = open_database(settings.database_url), files_of(settings)
    migrate(database)
    before = datetime.now(UTC) - timedelta(hours=3)
    with database.write() as session:
        trainer = Person(name="Runa", role="trainer")
        people = [Person(name=n, role="member", created_at=before, consent_at=before) for n in MEMBERS]
        session.add_all([trainer, *people])
        session.flush()
        actor, numbers = Actor(trainer.id, "Runa", "trainer"), [person.id for person in people]
    access = Access(database, files, actor)
    assert list(access.give_cards(numbers).values()) == list(MEMBERS)
    with database.write() as session:
        for card in session.scalars(select(MemberCard)):
            card.given_at = before
    for name, number in zip(MEMBERS, numbers, strict=True):
        if name != silent:
            access.deny_pain(number)
    return database, files, access


def watch(recording: Path, folder: Path, named: bool, kill: bool) -> dict:
    """Let the recording land in the watched folder and be taken; the lines said, time, memory."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    shutil.copyfile(recording, folder / recording.name)
    begun, before = time.monotonic(), resource.getrusage(resource.RUSAGE_CHILDREN)
    lines: list[str] = []
    if kill:
        lines += run(folder, named, until="kept to be checked", ended=signal.SIGKILL)
    lines += run(folder, named, until="only counted, in", ended=signal.SIGTERM)
    spent = used(begun, before)
    assert (folder / recording.name).stat().st_size == recording.stat().st_size
    return {"lines": lines, **spent}


def run(folder: Path, named: bool, until: str, ended: signal.Signals) -> list[str]:
    """The command until it says something; then it is ended. What it said of sets."""
    command = [sys.executable, "-m", "app.cli", "watch", str(folder), "--studio"]
    command += ["--exercise", MACHINE] if named else []
    said = []
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True) as process:
        assert process.stdout is not None
        for line in process.stdout:
            said.append(line.strip())
            if until in line:
                process.send_signal(ended)
                break
    return [line for line in said if "et:" in line or "only counted" in line]


def check(settings: StoreSettings) -> dict:
    """The page's queue until nothing waits."""
    begun, before = time.monotonic(), resource.getrusage(resource.RUSAGE_CHILDREN)
    runner = Runner(settings)
    runner.step()
    while runner._busy:
        time.sleep(1.0)
        runner.step()
    runner.close()
    return used(begun, before)


def used(begun: float, before: resource.struct_rusage) -> dict:
    """Wall and processor time of the processes that ended since, and the most memory one had so far."""
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return {
        "wall_s": round(time.monotonic() - begun),
        "cpu_s": round(spent),
        "mb": after.ru_maxrss // 1024,
    }


def held(database: Database, files: Files, access: Access, true: list[dict], out: Path) -> dict:
    """The store against the truth, and the page of proof."""
    with database.read() as session:
        rows = list(session.scalars(select(TrainingSet).order_by(TrainingSet.id)))
        known = set(referenced(session))
    names = {member.id: member.name for member in access.members()}
    clips = [one.proof for one in access.proven()]
    if clips:
        (out / "proof.html").write_text(proof_page(clips, len(rows) - len(clips)))
    return {
        "true": [(one["who"], one["count"]) for one in true],
        "kept": [(names[row.person_id], row.count, row.status, row.exercise) for row in rows],
        "reports": [of_report(access, row.id) for row in rows],
        "only_counted": [(one.why, one.sets) for one in access.only_counted(datetime(2020, 1, 1).date())],
        "unused_files": len([a for a in files.addresses() if a not in known]),
        "beside_the_store": sorted(
            str(path.relative_to(files.folder.parent))
            for path in files.folder.parent.rglob("*")
            if path.is_file() and not Files.is_address(path.name)
        ),
        "verify": verify(database, files).problems,
        "trust": trust(clips) if clips else None,
        "agreement": [
            (
                one.what,
                one.n,
                round(one.mean, 2),
                one.low and round(one.low, 2),
                one.high and round(one.high, 2),
            )
            for one in agreements(clips)
        ],
    }


def of_report(access: Access, set_id: int) -> dict:
    """What a report says in short: flags, and why it was not judged."""
    report = access.report(set_id)
    if report is None:
        return {"problem": access.set(set_id).message}
    return {
        "flags": sorted({finding.check for finding in report.flags()}),
        "problems": [problem.code for problem in report.quality.problems],
    }


if __name__ == "__main__":
    main()
