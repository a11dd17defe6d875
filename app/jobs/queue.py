"""The queue of clips to check. A job is taken under a lease; only who holds it may report or finish.

A lease that runs out (the machine or the worker died) frees the job for another worker, and what the
first one may still say is not heard: no job is finished twice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, field
from datetime import timedelta
from typing import Any

from sqlalchemy import and_, or_, select, update
from sqlalchemy.orm import Session

from app.rules.states import JobState
from app.store import queries, standing
from app.store.cards import limit_of
from app.store.database import Database
from app.store.handouts import facts
from app.store.machine_places import keep_places, places_of
from app.store.models import Job, Person, Report, TrainingSet, now
from app.store.proofs import proof_of
from shared.exercise import Tempo
from shared.own_range import Range
from shared.places import Sight
from shared.proof import Proof
from shared.report import SetReport
from vision.telling.files import HANDOUT

LEASE_S = 60.0
#: A lease further ahead than this, in s, was given before the clock was set back: it is over.
FAR_S = 600.0
#: A job whose worker died this often is given up.
MOST_ATTEMPTS = 3
GAVE_UP = (
    "Checking this clip stopped the program more than once; the clip is kept. "
    "Film the set again, or ask your trainer to look at it."
)


class JobLost(Exception):
    """The lease has gone to someone else, or the job is over."""


@dataclass(frozen=True)
class Approved:
    """What is kept of an approved set: its report as JSON, and the address of its signals."""

    report: str
    signals: str | None


@dataclass(frozen=True)
class Claimed:
    """A job under lease, with all that a worker needs to know of its set.

    limits: the member's own, {check: {at_most or at_least: number}}; bounds: what their card bounds the
    counted angle to, by ``range`` or by side; tempo: asked of them; marks: points of the machine; beginner:
    new to the machines; approved: the set that this one is held against; facts: day, load and settings in
    words, for the hand-out; second: the same set from another side; proof: what the check must not tell
    more surely than; places: where the machine's parts lie from its frame board.
    """

    job_id: int
    attempt: int
    set_id: int
    clip: str
    clip_name: str
    exercise: str
    side: str | None
    height_cm: float | None
    cleared: bool
    beginner: bool = False
    limits: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    bounds: Mapping[str, Range] = field(default_factory=dict)
    tempo: Tempo | None = None
    marks: tuple[Mapping[str, Any], ...] = ()
    places: tuple[Sight, ...] = ()
    approved: Approved | None = None
    facts: tuple[tuple[str, str], ...] = ()
    second: str | None = None
    second_name: str = ""
    proof: Proof | None = None


@dataclass(frozen=True)
class Outcome:
    """What a check leaves: the report, and content addresses of the files beside it."""

    report: SetReport
    _: KW_ONLY
    annotated: str | None = None
    page: str | None = None
    signals: str | None = None
    moving: str | None = None
    pictures: tuple[tuple[str, str], ...] = ()


def claim(database: Database, lease_s: float = LEASE_S) -> Claimed | None:
    """Take the next job: the longest waiting one, or one whose lease has run out."""
    with database.write() as session:
        over = or_(Job.lease_until < now(), Job.lease_until > now() + timedelta(seconds=FAR_S))
        free = or_(Job.state == "queued", and_(Job.state == "running", over))
        query = select(Job).where(free).order_by(Job.id).limit(1).with_for_update(skip_locked=True)
        while (job := session.scalar(query)) is not None:
            if job.attempt < MOST_ATTEMPTS:
                return _take(session, job, lease_s)
            _fail(session, job, GAVE_UP)
            session.flush()
    return None


def clips_wait(database: Database) -> bool:
    """Whether a clip waits while another one is being checked; who only has time on their hands waits too.

    Where nobody works on the queue, nothing is waited for.
    """
    alive = and_(Job.lease_until > now(), Job.lease_until < now() + timedelta(seconds=FAR_S))
    with database.read() as session:
        waiting = session.scalar(select(Job.id).where(Job.state == "queued").limit(1))
        busy = session.scalar(select(Job.id).where(Job.state == "running", alive).limit(1))
    return waiting is not None and busy is not None


def _take(session: Session, job: Job, lease_s: float) -> Claimed:
    job.state, job.step, job.progress = "running", "Opening the clip", 0.0
    job.attempt += 1
    job.lease_until = now() + timedelta(seconds=lease_s)
    row = session.get_one(TrainingSet, job.set_id)
    person = session.get_one(Person, row.person_id)
    card = queries.card(session, row.person_id, row.exercise)
    return Claimed(
        job.id, job.attempt, set_id=row.id, clip=row.clip or "", clip_name=row.clip_name,
        exercise=row.exercise, side=row.side, height_cm=person.height_cm,
        cleared=bool(card and card.cleared), beginner=person.beginner,
        limits=(card.own_limits if card else None) or {},
        bounds=limit_of(card).bounds(row.side) if card else {}, marks=tuple(row.marks or ()),
        tempo=queries.asked_tempo(session, row.person_id, row.exercise), approved=_approved(session, row),
        facts=tuple(facts(row, card, queries.room(session))),
        second=row.second_clip, second_name=row.second_name or "",
        proof=proof_of(session), places=places_of(session, row, card),
    )  # fmt: skip


def _approved(session: Session, row: TrainingSet) -> Approved | None:
    """What a trainer approved of this member on this machine; None for that set itself."""
    reference = queries.reference(session, row.person_id, row.exercise)
    if reference is None or reference.set_id == row.id:
        return None
    kept = queries.report(session, reference.set_id)
    return Approved(kept.body, kept.signals) if kept else None


def beat(database: Database, job: Claimed, step: str, progress: float, lease_s: float = LEASE_S) -> None:
    """Say how far a job has come, and keep its lease.

    Raises
    ------
    JobLost : someone else has it.
    """
    values = {"step": step, "progress": progress, "lease_until": now() + timedelta(seconds=lease_s)}
    with database.write() as session:
        held = session.execute(update(Job).where(*_held(job)).values(**values)).rowcount  # type: ignore[attr-defined]
    if not held:
        raise JobLost


def finish(database: Database, job: Claimed, outcome: Outcome) -> None:
    """Keep the report and end the job, in one step.

    Raises
    ------
    JobLost : someone else has it; nothing is kept.
    """
    with database.write() as session:
        row = _end(session, job, "done")
        before = queries.report(session, row.id)
        session.add(
            Report(
                set_id=row.id, version=before.version + 1 if before else 1, body=outcome.report.to_json(),
                annotated=outcome.annotated, page=outcome.page, signals=outcome.signals,
                moving=outcome.moving, pictures=_pictures(job, outcome),
            )
        )  # fmt: skip
        keep_places(session, row, outcome.report)
        session.flush()
        standing.judged(session, row, outcome.report)


def _pictures(job: Claimed, outcome: Outcome) -> list[dict[str, Any]]:
    """What is kept of the pictures; of the hand-out also what it says of day, load and settings."""
    return [
        {"finding": finding, "file": file} | ({"facts": job.facts} if finding == HANDOUT else {})
        for finding, file in outcome.pictures
    ]


def fail(database: Database, job: Claimed, sentence: str) -> None:
    """End a job whose clip cannot be checked; the sentence says why.

    Raises
    ------
    JobLost : someone else has it.
    """
    with database.write() as session:
        _end(session, job, state="failed", message=sentence)


def give_back(database: Database, job: Claimed) -> None:
    """Free a job whose worker died; a job that is over or taken by another is left alone."""
    with database.write() as session:
        values: dict[str, Any] = {"state": "queued", "step": "Taken up again", "lease_until": None}
        session.execute(update(Job).where(*_held(job)).values(**values))


def _held(job: Claimed) -> tuple[Any, ...]:
    return Job.id == job.job_id, Job.attempt == job.attempt, Job.state == "running"


def _end(session: Session, job: Claimed, state: JobState, message: str = "") -> TrainingSet:
    kept = session.scalar(select(Job).where(*_held(job)).with_for_update())
    if kept is None:
        raise JobLost
    if state == "failed":
        return _fail(session, kept, message)
    kept.state, kept.progress, kept.step, kept.finished_at = state, 1.0, "Done", now()
    return session.get_one(TrainingSet, kept.set_id)


def _fail(session: Session, job: Job, message: str) -> TrainingSet:
    job.state, job.message, job.finished_at, job.step = "failed", message, now(), "Stopped"
    row = session.get_one(TrainingSet, job.set_id)
    standing.not_judged(session, row, message)
    return row
