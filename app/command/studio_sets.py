"""What ``plumbset watch --studio`` makes of a recording: its sets in the page's store, or a count of them."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from app.command.checking import LIMITS
from app.command.recordings import Machine, cut_out, machines, search
from app.command.sets import clock
from app.jobs.contained import Say, quiet, run_contained
from app.store import found_sets
from app.store.database import Database
from app.store.files import Files
from app.store.found_sets import Taken, keep_found, key_of, refused
from shared.exercise import Exercise
from shared.recording import FEWEST_REPS, Likely, LikelySets

#: In the page's data folder: what became of each recording, by its content.
FOLDER = "watched"
NO_SET = f"Fewer than {FEWEST_REPS} repetitions were seen."


@dataclass(frozen=True)
class Studio:
    """The page's store, where cuts lie for a moment, the machine named, and who hears of each set."""

    database: Database
    files: Files
    work: str
    exercise: Exercise | None
    tell: Callable[[str], None]


def work_name(folder: Path) -> str:
    """What the work folders of a watched folder are known by: another folder may be watched as well."""
    return f"watch{hashlib.sha256(str(folder.absolute()).encode()).hexdigest()[:10]}"


def clear_work(files: Files, work: str) -> None:
    """Remove the cut that a stopped command left."""
    for left in files.folder.glob(f".work-{work}-*"):
        shutil.rmtree(left, ignore_errors=True)


def take_recording(studio: Studio, recording: Path, sha256: str, say: Say) -> str:
    """Put every set of a recording in the store, or count it; what to say of the whole. It is only read.

    sha256: of the recording; by it and by where a set starts a set is known again after a stop.

    Raises
    ------
    InputError : it cannot be read. UsageError, InternalError : the store or we failed; it may be tried again.
    """
    written_at = datetime.fromtimestamp(recording.stat().st_mtime, UTC)
    found: LikelySets = run_contained(search, (recording,), say, LikelySets, LIMITS)
    begun_at = begun(found, written_at)
    kept = counted = 0
    for one, machine in zip(found.sets, machines(found.sets, studio.exercise), strict=True):
        where = f"{clock(one.start_s)} to {clock(one.end_s)}"
        if one.swings < 2 * FEWEST_REPS:
            studio.tell(f"No set: {where}. {NO_SET}")
            continue
        moment = begun_at + timedelta(seconds=one.start_s)
        taken = _take(studio, recording, one, key=key_of(sha256, one.start_s), machine=machine, moment=moment)
        kept, counted = kept + (not taken.why), counted + bool(taken.why)
        what = f"only counted. {taken.sentence}" if taken.why else f"card {one.card}, kept to be checked."
        studio.tell(f"Set: {where}, {what}")
    return f"{recording.name}: {kept} kept, {counted} only counted, in {clock(found.duration_s)}."


def begun(found: LikelySets, written_at: datetime) -> datetime:
    """When a recording began: it ended when its file was written, or earlier, where the file says so.

    A file that was copied without its time says by itself on which day it was recorded, give or take its
    own length.
    """
    length = timedelta(seconds=found.duration_s)
    says = written_at if found.recorded_at is None else found.recorded_at + length
    return min(written_at, says) - length


def _take(
    studio: Studio, recording: Path, one: Likely, key: str, machine: Machine, moment: datetime
) -> Taken:
    """Keep or count one set; it is cut only where it may be kept, and the cut goes at once."""
    name = machine.exercise.name if machine.exercise else None
    found = found_sets.Found(key, one.card, name, moment)
    taken = refused(studio.database, found)
    if taken is not None:
        return taken
    with studio.files.work(studio.work) as folder:
        clip = folder / "set.mp4"
        run_contained(cut_out, (recording, one.cut_start_s, one.cut_end_s, clip), quiet, float, LIMITS)
        with clip.open("rb") as stream:
            return keep_found(
                studio.database, studio.files, found, stream, f"{recording.stem}-{one.start_s:.0f}s.mp4"
            )
