"""Reads and small changes of the store; who may ask for them is decided in ``app.store.access``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app.rules import told
from app.rules.other_machine import MACHINE, confirmed
from app.rules.room import Room, room_of
from app.rules.states import Feeling, SetStatus
from app.rules.words import name_key
from app.rules.worry import worry_of
from app.store import member_sets, tellings
from app.store.models import (
    Card,
    Decision,
    Job,
    Pass,
    Person,
    Reference,
    Release,
    Report,
    Studio,
    TrainingSet,
    now,
)
from app.store.rules import Refused, sound_email
from shared.errors import UsageError
from shared.exercise import Tempo
from shared.report import SetReport


@dataclass(frozen=True)
class MemberLine:
    """A member in the list: waiting counts sets that nobody has looked at."""

    id: int
    name: str
    beginner: bool
    last_set: date | None
    sets: int
    waiting: int


@dataclass(frozen=True)
class WaitingLine:
    """A set that waits for a trainer."""

    set_id: int
    member: str
    exercise: str
    load: float | None
    unit: str
    done_on: date
    uploaded_at: datetime
    status: SetStatus
    count: int | None
    worry: int
    reason: str
    feeling: Feeling | None


@dataclass(frozen=True)
class LinkLine:
    """A personal link that still works."""

    created_at: datetime
    expires_at: datetime


def members(session: Session) -> list[MemberLine]:
    """Members by name."""
    of = (
        select(
            TrainingSet.person_id,
            func.count().filter(member_sets.A_SET).label("sets"),
            func.max(TrainingSet.done_on).filter(member_sets.A_SET).label("last"),
            func.count().filter(TrainingSet.reviewed_at.is_(None)).label("waiting"),
        )
        .group_by(TrainingSet.person_id)
        .subquery()
    )
    rows = session.execute(
        select(Person.id, Person.name, Person.beginner, of.c.last, of.c.sets, of.c.waiting)
        .outerjoin(of, of.c.person_id == Person.id)
        .where(Person.role == "member", Person.active)
        .order_by(func.lower(Person.name), Person.id)
    )
    return [
        MemberLine(i, name, beginner=new, last_set=last, sets=n or 0, waiting=w or 0)
        for i, name, new, last, n, w in rows
    ]


def waiting(session: Session) -> list[WaitingLine]:
    """Sets nobody has looked at, most worrying first, then the longest waiting."""
    rows = session.execute(
        select(TrainingSet, Person.name)
        .join(Person, Person.id == TrainingSet.person_id)
        .where(TrainingSet.reviewed_at.is_(None), Person.active)
        .order_by(TrainingSet.worry, TrainingSet.uploaded_at)
    )
    in_unit = room(session).load
    return [
        WaitingLine(
            s.id, name, s.exercise, *in_unit(s.load, s.unit), done_on=s.done_on,
            uploaded_at=s.uploaded_at, status=s.status, count=s.reps, worry=s.worry, reason=s.worry_words,
            feeling=s.feeling,
        )
        for s, name in rows
    ]  # fmt: skip


def card(session: Session, person_id: int, exercise: str) -> Card | None:
    """The kept settings card, if any."""
    return session.scalar(select(Card).where(Card.person_id == person_id, Card.exercise == exercise))


def studio(session: Session) -> Studio:
    """What is set for the whole studio; nothing yet where nothing was kept."""
    return session.get(Studio, 1) or Studio(id=1, hold_back=True)


def room(session: Session) -> Room:
    """Machines and units of the room."""
    kept = studio(session)
    return room_of(kept.machines, kept.weight_unit, kept.length_unit)


def tempo_of(kept: Card | Studio | None) -> Tempo | None:
    """The tempo that a card or the studio asks."""
    if kept is None or kept.lift_s is None or kept.lower_s is None:
        return None
    return Tempo(lift_s=kept.lift_s, lower_s=kept.lower_s)


def asked_tempo(session: Session, person_id: int, exercise: str) -> Tempo | None:
    """The tempo that is asked of a member on a machine: their card's, else the studio's."""
    return tempo_of(card(session, person_id, exercise)) or tempo_of(studio(session))


def no_namesake(session: Session, name: str) -> None:
    """UsageError where a member has that name already: nobody could tell whose set is sent."""
    names = session.scalars(select(Person.name).where(Person.role == "member", Person.active))
    taken = next((one for one in names if name_key(one) == name_key(name)), None)
    if taken is not None:
        raise UsageError(f"There is a member called {taken} already. Add a letter or a surname.")


def set_email(session: Session, person: Person, email: str) -> None:
    """Give a person an e-mail address that nobody else has; an empty one takes it away."""
    wanted = sound_email(email)
    with session.no_autoflush:
        taken = session.scalar(select(Person).where(Person.email == wanted)) if wanted else None
    if taken is not None and taken is not person:
        raise UsageError("Someone else here has this e-mail address; choose another one.")
    person.email = wanted


def links(session: Session, person_id: int) -> list[LinkLine]:
    """Links that are neither revoked nor over, newest first."""
    rows = session.scalars(
        select(Pass)
        .where(Pass.kind == "link", Pass.person_id == person_id)
        .where(Pass.revoked_at.is_(None), Pass.expires_at > now())
        .order_by(Pass.created_at.desc())
    )
    return [LinkLine(p.created_at, p.expires_at) for p in rows]


def set_of_clip(session: Session, person_id: int, clip: str) -> TrainingSet | None:
    """The set a member sent with this very clip."""
    return session.scalar(
        select(TrainingSet).where(TrainingSet.clip == clip, TrainingSet.person_id == person_id)
    )


def job(session: Session, set_id: int) -> Job | None:
    """The latest job of a set."""
    return session.scalar(select(Job).where(Job.set_id == set_id).order_by(Job.id.desc()).limit(1))


def report(session: Session, set_id: int) -> Report | None:
    """The latest report of a set."""
    return session.scalar(
        select(Report).where(Report.set_id == set_id).order_by(Report.version.desc()).limit(1)
    )


def reports(session: Session, set_ids: Sequence[int]) -> dict[int, SetReport]:
    """The latest report of each set that has one."""
    read = room(session)
    return {row.set_id: read_in(read, row) for row in latest_reports(session, set_ids)}


def read_in(read: Room, kept: Report) -> SetReport:
    """A report as people of the room read it: it is kept in cm."""
    return SetReport.from_json(read.report_lengths(kept.body))


def read_of(session: Session, set_id: int) -> SetReport | None:
    """The latest report of a set as the room reads it; a machine that was confirmed is in no doubt."""
    kept = report(session, set_id)
    return confirmed(read_in(room(session), kept), said(session, set_id)) if kept else None


def latest_reports(session: Session, set_ids: Sequence[int]) -> list[Report]:
    """The latest report of each set that has one, as it is kept."""
    rows = session.scalars(select(Report).where(Report.set_id.in_(set_ids)).order_by(Report.version))
    return list({row.set_id: row for row in rows}.values())


def rate(session: Session, row: TrainingSet) -> None:
    """Work out anew how soon a trainer should look at a set."""
    kept = report(session, row.id) if row.id else None
    worry = worry_of(
        SetReport.from_json(kept.body) if kept else None, row.status, pain=row.pain, where=row.pain_where,
        machine_sure=bool(row.id) and MACHINE in said(session, row.id),
        cleared=tellings.cleared_by(session, row.id) if row.id and row.pain else "",
    )  # fmt: skip
    row.worry, row.worry_words = worry.rank, worry.words


def sent(session: Session, person_id: int) -> int:
    """How many sets with a clip a member has sent."""
    of = (TrainingSet.person_id == person_id, TrainingSet.clip.is_not(None))
    return session.scalar(select(func.count()).where(*of)) or 0


def said(session: Session, set_id: int, until: datetime | None = None) -> dict[str, told.Said]:
    """The last word on each finding of a set, up to a moment where one is named."""
    of = [Decision.set_id == set_id, *([Decision.at <= until] if until is not None else [])]
    rows = session.scalars(select(Decision).where(*of).order_by(Decision.id))
    return told.latest((d.finding, said_of(d)) for d in rows)


def said_of(row: Decision) -> told.Said:
    """What a decision says of its finding."""
    at = None if row.place_x is None or row.place_y is None else (row.place_x, row.place_y)
    return told.Said(row.kind, row.words, row.time_s, place=at, check=row.check_id or "")


def check_finding(session: Session, set_id: int, finding: str) -> None:
    """Refuse a decision about a finding that the set does not have."""
    if finding in (told.NOTE, MACHINE) or finding in said(session, set_id):
        return
    kept = report(session, set_id)
    if kept is None or finding not in {told.key_of(f) for f in SetReport.from_json(kept.body).findings}:
        raise Refused


def reference(session: Session, person_id: int, exercise: str) -> Reference | None:
    """The reference of a member on a machine."""
    return session.scalar(
        select(Reference).where(Reference.person_id == person_id, Reference.exercise == exercise)
    )


def release(session: Session, set_id: int) -> Release | None:
    """What was handed over last."""
    return session.scalar(
        select(Release).where(Release.set_id == set_id).order_by(Release.id.desc()).limit(1)
    )


def handed(session: Session, person_id: int) -> dict[int, bool]:
    """A member's sets that were handed over, each with whether one repetition alone was looked at."""
    of = select(Release).join(TrainingSet, TrainingSet.id == Release.set_id)
    rows = session.scalars(of.where(TrainingSet.person_id == person_id).order_by(Release.id))
    return {row.set_id: bool(row.body.get("glanced")) for row in rows}
