"""What a worker process does with one job: check the clip, keep what came of it, say how far it is."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from app.jobs.contained import OURS, Say, run_contained
from app.jobs.following import Following
from app.jobs.judged import NO_APPROVED, judge
from app.jobs.left import own
from app.jobs.queue import Claimed, JobLost, Outcome, beat, fail, finish
from app.store.belongings import drop_unreferenced
from app.store.database import Database, StoreTrouble
from app.store.files import Files
from shared.errors import DefinitionError, InternalError, PlumbsetError, UsageError
from shared.exercise import Exercise, find_exercise
from shared.keypoints import Side
from shared.limit import Limit
from shared.member import Member, Own
from shared.report import SetReport
from vision.telling.files import ANNOTATED, HANDOUT, PAGE

if TYPE_CHECKING:
    from vision.common.seams import FrameSource, Progress
    from vision.judging.approved import Reference
    from vision.telling.analysis import Analysis
    from vision.telling.first_look import FirstLook
    from vision.telling.handout import Facts

_log = logging.getLogger(__name__)
#: In the folder to work in: the clip, the set from another side, the approved set, and what the check writes.
CLIP, SECOND, APPROVED, OUT = "clip", "second", "approved", "out"
#: Where a report's signals lie beside it.
SIGNALS = "signals.csv"
#: What a page draws over the clip.
MOVING = "moving.json"
BEAT_S = 1.0
DRAWING = "Drawing what was seen"
#: How often and how long, in s, the end of a job is tried to be written down while the database is away.
RETRY_S, PATIENCE_S = 1.0, 600.0
NO_ROOM = (
    "What was found in this clip could not be written down, the disk may be full; the clip is kept. "
    "Your trainer can have it checked again when there is space."
)

Check = Callable[[Claimed, Files, Path, Say], Outcome]


def check_contained(job: Claimed, files: Files, folder: Path, say: Say) -> Outcome:
    """``check_clip`` in a process of its own, held to the limits of ``app.jobs.held``.

    That process reads and writes in the folder alone; the store's files are touched here.
    """
    clips = prepare(job, files, folder)
    found: CheckedClip = run_contained(check_clip, (job, clips, folder), say, CheckedClip)
    out = folder / OUT
    kept = {name: _keep(files, out, name) for name in (PAGE, ANNOTATED, SIGNALS, MOVING, HANDOUT)}
    pictures = [(finding, _keep(files, out, picture(i))) for i, finding in enumerate(found.pictures)]
    pictures.append((HANDOUT, kept[HANDOUT]))
    return Outcome(
        found.report, annotated=kept[ANNOTATED], page=kept[PAGE], signals=kept[SIGNALS], moving=kept[MOVING],
        pictures=tuple((finding, address) for finding, address in pictures if address),
    )  # fmt: skip


def run_with(database: Database, files: Files, job: Claimed, check: Check) -> None:
    """Run one job with a check of one's choice; whatever it raises becomes a sentence on the set."""
    with _Beating(database, job) as say:
        try:
            with files.work(f"set{job.set_id}") as folder:
                outcome = check(job, files, folder, say)
        except JobLost:
            return
        except PlumbsetError as error:
            sentence = str(error)
        except Exception:  # noqa: BLE001 - the set must not wait for ever
            sentence = OURS
        else:
            sentence = ""
    if sentence:
        _persist(lambda: fail(database, job, sentence))
    elif not _persist(lambda: finish(database, job, outcome)):
        _throw_away(database, files, outcome)


def _throw_away(database: Database, files: Files, outcome: Outcome) -> None:
    """Drop the files of a check that nobody waits for any more, such as of a member who was erased."""
    pictures = (address for _, address in outcome.pictures)
    kept = (outcome.annotated, outcome.page, outcome.signals, outcome.moving, *pictures)
    with database.write() as session:
        drop_unreferenced(session, files, [address for address in kept if address])


def _persist(write: Callable[[], None]) -> bool:
    """Write the end of a job down, again while the database is away; whether the job was still ours.

    A write that went through although its answer was lost is a ``JobLost`` the next time.
    """
    end = time.monotonic() + PATIENCE_S
    while True:
        try:
            write()
            return True
        except JobLost:
            return False
        except StoreTrouble:
            if time.monotonic() > end:
                raise
            _pause(RETRY_S)


def _pause(seconds: float) -> None:
    threading.Event().wait(seconds)


@dataclass(frozen=True)
class CheckedClip:
    """What a check tells beside its files. pictures: the finding of each, in the order of their files."""

    report: SetReport
    pictures: tuple[str, ...]


def picture(number: int) -> str:
    """The name of a finding's picture among what a check writes."""
    return f"picture-{number}.jpg"


def prepare(job: Claimed, files: Files, folder: Path) -> tuple[Path, ...]:
    """Lay ready what a check reads, and return the clip, or both, under the names they came with."""
    clips = [_named(files.path(job.clip), job.clip_name, folder / CLIP)]
    if job.second is not None:
        clips.append(_named(files.path(job.second), job.second_name, folder / SECOND))
    if job.approved is not None:
        place = folder / APPROVED
        place.mkdir()
        (place / "report.json").write_text(job.approved.report, encoding="utf-8")
        if job.approved.signals is not None and files.there(job.approved.signals):
            (place / SIGNALS).symlink_to(files.path(job.approved.signals))
    return tuple(clips)


def check_clip(job: Claimed, clips: tuple[Path, ...], folder: Path, say: Say) -> CheckedClip:
    """Judge the clip and write what comes of it. Loads the landmark model: for contained processes only.

    Of two clips of one set each check is answered from the better view; all times are the first's.
    """
    from vision.judging.options import Options
    from vision.seeing.marks import MarkPoint
    from vision.seeing.pose_mediapipe import MediaPipePose

    sides: dict[str | None, Side] = {"left": "left", "right": "right"}
    pose, exercise = MediaPipePose(None), find_exercise(job.exercise)
    options = Options(
        side=sides.get(job.side), height_cm=job.height_cm, cleared=job.cleared, member=own_limits(job),
        reference=approved_set(job, exercise, folder),
        marks=tuple(MarkPoint(**point) for point in job.marks), sights=job.places, proof=job.proof,
    )  # fmt: skip
    following = Following(say, of_all=0.65)
    notes = [NO_APPROVED] if job.approved is not None and options.reference is None else []
    source, analysis, report, second = judge(clips, exercise, pose, options, following, notes)
    said = leave(
        source, analysis, job.facts, folder / OUT, lambda p: say(DRAWING, 0.65 + 0.33 * p), second
    )  # fmt: skip
    return CheckedClip(report, said)


def leave(
    source: FrameSource,
    analysis: Analysis,
    facts: Facts,
    out: Path,
    progress: Progress,
    second: tuple[FrameSource, Analysis] | None = None,
) -> tuple[str, ...]:
    """Write all that a check leaves; the clip without drawings where a page can draw them itself.

    second: the other clip of a set filmed twice, for its pictures.
    Returns the finding of each picture, in the order of their files.
    """
    from vision.telling.moving import moving_drawing
    from vision.telling.pictures import flag_pictures
    from vision.telling.video import write_annotated
    from vision.telling.write import write_outputs

    progress(0.0)
    moving = moving_drawing(analysis)
    pictures = flag_pictures(source, analysis, watch=True)
    if second is not None:
        pictures |= flag_pictures(*second, watch=True)
    try:
        write_outputs(source, analysis, out, second=second, facts=facts)
        write_annotated(source, analysis, out / ANNOTATED, progress=progress, drawn=moving is None)
        if moving:
            (out / MOVING).write_text(moving, encoding="utf-8")
        for i, data in enumerate(pictures.values()):
            (out / picture(i)).write_bytes(data)
    except (UsageError, OSError) as error:  # it speaks of options that nobody here has given
        raise InternalError(NO_ROOM) from error
    return tuple(f"{check}:{'' if rep is None else rep}" for check, rep in pictures)


def approved_set(job: Claimed, exercise: Exercise, folder: Path) -> Reference | None:
    """The member's approved set on this machine; None without one, or where it cannot be read any more."""
    from vision.judging.approved import load_reference

    if job.approved is None:
        return None
    try:
        return load_reference(folder / APPROVED / "report.json", exercise)
    except DefinitionError:
        _log.warning("the approved set of set %s cannot be read; it is judged without", job.set_id)
        return None


def own_limits(job: Claimed) -> Member | None:
    """The member's own limits, range and tempo as the pipeline takes them; checks that are gone are left out.

    Who is new to the machines may have stricter limits from the definition.
    """
    known = {spec.id for spec in find_exercise(job.exercise).checks}
    limits = {check: Limit(**bounds) for check, bounds in job.limits.items() if check in known}
    if not (limits or job.beginner or job.bounds or job.tempo):
        return None
    own = Own(limits=limits, tempo=job.tempo, **job.bounds)
    return Member(new=job.beginner, exercises={job.exercise: own})


def _named(kept: Path, name: str, folder: Path) -> Path:
    """The kept clip under the name it came with, so that the report can say it."""
    folder.mkdir()
    safe = name.isprintable() and not set(name) & {"/", "\\"}
    plain = safe and name.strip(".") and len(name.encode()) < 200
    place = folder / (name if plain else "clip")
    place.symlink_to(kept)
    return place


def _keep(files: Files, folder: Path, name: str) -> str | None:
    if not (folder / name).exists():
        return None
    with own(folder, name).open("rb") as stream:
        return files.keep(stream)


class _Beating:
    """A thread that tells the store how far the job is, and stops the work when the lease is lost."""

    def __init__(self, database: Database, job: Claimed):
        self._database, self._job = database, job
        self._said = ("Opening the clip", 0.0)
        self._over, self._lost = threading.Event(), False
        self._thread = threading.Thread(target=self._beat, daemon=True)

    def __enter__(self) -> Say:
        self._thread.start()
        return self._say

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()

    def _say(self, step: str, progress: float, _: FirstLook | None = None, /) -> None:
        if self._lost:
            raise JobLost
        self._said = (step, progress)

    def _beat(self) -> None:
        while not self._over.wait(BEAT_S):
            try:
                beat(self._database, self._job, *self._said)
            except JobLost:
                self._lost = True
                return
            except StoreTrouble:  # away for a moment: the lease outlasts it, or the job is taken up again
                continue
