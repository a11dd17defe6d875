"""The tables. Rows are plain data once read: no relation is loaded behind anyone's back."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from sqlalchemy import BigInteger, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from app.rules.states import DecisionKind, Feeling, JobState, Role, SetStatus
from app.store.base import Base as Base
from app.store.base import now as now
from app.store.studio_tables import MachineMarks as MachineMarks
from app.store.studio_tables import Studio as Studio


class Person(Base):
    """A trainer or a member; login and password only where they sign in with them.

    email: in small letters, for the studio's sign-in provider. circuit: machines in the order of the
    member's own circuit, None for the usual one. beginner: new to the machines; asked_at_sets: how many
    sets they had sent when a trainer last said that they still are. consent_by: who wrote the agreement to
    be filmed down, None where it was the member. archived_at: since when a member is
    archived, and so not active.
    """

    __tablename__ = "person"
    __table_args__ = (Index("ix_person_email", "email", unique=True),)

    id: Mapped[int] = mapped_column(primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    role: Mapped[Role] = mapped_column(String(10), index=True)
    login: Mapped[str | None] = mapped_column(String(80), unique=True)
    password: Mapped[str | None] = mapped_column(String(200))
    email: Mapped[str | None] = mapped_column(String(254))
    circuit: Mapped[list[Any] | None]
    height_cm: Mapped[float | None]
    beginner: Mapped[bool] = mapped_column(default=False)
    asked_at_sets: Mapped[int] = mapped_column(default=0)
    consent_at: Mapped[datetime | None]
    consent_by: Mapped[str | None] = mapped_column(String(80))
    active: Mapped[bool] = mapped_column(default=True)
    archived_at: Mapped[datetime | None]
    created_at: Mapped[datetime] = mapped_column(default=now)


class Card(Base):
    """How one machine is set up for one member, and what limits they train within.

    left_at_least_deg to right_at_most_deg: within these the counted joint of that side stays, in every check
    of the member. lift_s, lower_s: the tempo asked of them. limits: in words, for people alone.
    own_limits: {check: {at_most or at_least: number}}, in place of the definition's, set by a trainer.
    """

    __tablename__ = "card"
    __table_args__ = (UniqueConstraint("person_id", "exercise"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    exercise: Mapped[str] = mapped_column(String(80))
    seat: Mapped[str] = mapped_column(String(80), default="")
    back_pad: Mapped[str] = mapped_column(String(80), default="")
    lever_pin: Mapped[str] = mapped_column(String(80), default="")
    start_position: Mapped[str] = mapped_column(String(80), default="")
    thigh_pad: Mapped[str] = mapped_column(String(80), default="")
    grip: Mapped[str] = mapped_column(String(80), default="")
    foot_support: Mapped[str] = mapped_column(String(80), default="")
    usual_load: Mapped[float | None]
    unit: Mapped[str] = mapped_column(String(10), default="kg")
    limits: Mapped[str] = mapped_column(Text, default="")
    left_at_least_deg: Mapped[float | None]
    left_at_most_deg: Mapped[float | None]
    right_at_least_deg: Mapped[float | None]
    right_at_most_deg: Mapped[float | None]
    lift_s: Mapped[float | None]
    lower_s: Mapped[float | None]
    cleared: Mapped[bool] = mapped_column(default=False)
    own_limits: Mapped[dict[str, Any] | None]
    changed_at: Mapped[datetime] = mapped_column(default=now, onupdate=now)
    changed_by: Mapped[int | None] = mapped_column(ForeignKey("person.id"))


class TrainingSet(Base):
    """One set on one machine, with or without its clip.

    clip: the content address of the clip, None where only pain was told; second_clip: of the same set from
    another side; clip_dropped_at: since when both are kept no longer; binned_at, binned_by: since when they
    lie in the bin, and who put them there. worry: the smaller, the sooner a trainer should look; worry_words
    says why. reviewed_at: None while it waits. count: repetitions as the tool counted them; counted: as a
    trainer did, where they counted otherwise. marks: points of the machine that its check goes by, as in
    ``MachineMarks``.
    feeling, pain_*: the sum of what was told, see ``app.store.tellings``.
    """

    __tablename__ = "training_set"
    __table_args__ = (
        Index("ix_set_waiting", "reviewed_at", "worry", "uploaded_at"),
        Index("ix_set_person", "person_id", "exercise", "done_on"),
        Index("ix_set_member", "person_id", "reviewed_at", "done_on"),
        UniqueConstraint("person_id", "clip"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    exercise: Mapped[str] = mapped_column(String(80))
    clip: Mapped[str | None] = mapped_column(String(64))
    clip_dropped_at: Mapped[datetime | None]
    clip_name: Mapped[str] = mapped_column(String(200), default="")
    second_clip: Mapped[str | None] = mapped_column(String(64))
    second_name: Mapped[str | None] = mapped_column(String(200))
    load: Mapped[float | None]
    unit: Mapped[str] = mapped_column(String(10), default="kg")
    side: Mapped[str | None] = mapped_column(String(5))
    done_on: Mapped[date]
    uploaded_at: Mapped[datetime] = mapped_column(default=now)
    feeling: Mapped[Feeling | None] = mapped_column(String(20))
    pain_before: Mapped[bool] = mapped_column(default=False)
    pain_after: Mapped[bool] = mapped_column(default=False)
    pain_where: Mapped[str] = mapped_column(Text, default="")
    status: Mapped[SetStatus] = mapped_column(String(10), default="checking")
    message: Mapped[str] = mapped_column(Text, default="")
    count: Mapped[int | None]
    counted: Mapped[int | None]
    marks: Mapped[list[Any] | None]
    worry: Mapped[int] = mapped_column(default=80)
    worry_words: Mapped[str] = mapped_column(Text, default="")
    reviewed_at: Mapped[datetime | None]
    binned_at: Mapped[datetime | None]
    binned_by: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    @property
    def pain(self) -> bool:
        """Whether pain was told before or after the set."""
        return self.pain_before or self.pain_after

    @property
    def reps(self) -> int | None:
        """How many repetitions the set had: the trainer's count comes before the tool's."""
        return self.count if self.counted is None else self.counted


class Done(Base):
    """A machine of the circuit done on a day without a clip, told by the member or a trainer."""

    __tablename__ = "done"
    __table_args__ = (UniqueConstraint("person_id", "day", "exercise"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    day: Mapped[date]
    exercise: Mapped[str] = mapped_column(String(80))
    at: Mapped[datetime] = mapped_column(default=now)


class Report(Base):
    """What the tool said of a set, word for word; a later check of the same set is a new version.

    annotated, page, signals: content addresses of the clip with hidden heads, of the report as one page and
    of signals.csv; moving: of what a page draws over that clip, None where it is drawn on the clip itself or
    nobody was followed; pictures: [{finding, file}], the hand-out with its ``facts``.
    """

    __tablename__ = "report"
    __table_args__ = (UniqueConstraint("set_id", "version"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    version: Mapped[int] = mapped_column(default=1)
    body: Mapped[str] = mapped_column(Text)
    annotated: Mapped[str | None] = mapped_column(String(64))
    page: Mapped[str | None] = mapped_column(String(64))
    signals: Mapped[str | None] = mapped_column(String(64))
    moving: Mapped[str | None] = mapped_column(String(64))
    pictures: Mapped[list[Any]] = mapped_column(default=list)
    created_at: Mapped[datetime] = mapped_column(default=now)


class Decision(Base):
    """What a trainer said of one finding, or added; rows are only ever added, the latest counts.

    finding: ``check:rep`` (``check:`` for the whole set), the name of an added moment, or ``set``
    for the note that goes with the result. place_x, place_y: what the words point at, as shares of the
    picture's width and height. check_id: of an added moment, the check that should have seen it. event: the
    number under which it was done at the desk, None where it was done elsewhere.
    """

    __tablename__ = "decision"
    __table_args__ = (Index("ix_decision_set", "set_id", "id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    report_id: Mapped[int | None] = mapped_column(ForeignKey("report.id"))
    finding: Mapped[str] = mapped_column(String(90))
    kind: Mapped[DecisionKind] = mapped_column(String(10))
    words: Mapped[str] = mapped_column(Text, default="")
    time_s: Mapped[float | None]
    place_x: Mapped[float | None]
    place_y: Mapped[float | None]
    check_id: Mapped[str | None] = mapped_column(String(80))
    event: Mapped[int | None] = mapped_column(BigInteger)
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(default=now)


class Release(Base):
    """What was handed to the member, as it was handed over; the latest counts.

    looked_at: ``reviewed_at`` of the set as it was before, None where it waited.
    """

    __tablename__ = "release"
    __table_args__ = (Index("ix_release_set", "set_id", "id"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    body: Mapped[dict[str, Any]]
    looked_at: Mapped[datetime | None]
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(default=now)


class Reference(Base):
    """The set a member's later sets on that machine are shown beside."""

    __tablename__ = "reference"
    __table_args__ = (UniqueConstraint("person_id", "exercise"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    exercise: Mapped[str] = mapped_column(String(80))
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(default=now)


class Job(Base):
    """One clip to check. A running job whose lease has run out may be taken up by another worker."""

    __tablename__ = "job"
    __table_args__ = (Index("ix_job_state", "state", "lease_until"), Index("ix_job_set", "set_id", "id"))

    id: Mapped[int] = mapped_column(primary_key=True)
    set_id: Mapped[int] = mapped_column(ForeignKey("training_set.id"))
    state: Mapped[JobState] = mapped_column(String(10), default="queued")
    step: Mapped[str] = mapped_column(String(80), default="Waiting for its turn")
    progress: Mapped[float] = mapped_column(default=0.0)
    message: Mapped[str] = mapped_column(Text, default="")
    attempt: Mapped[int] = mapped_column(default=0)
    lease_until: Mapped[datetime | None]
    created_at: Mapped[datetime] = mapped_column(default=now)
    finished_at: Mapped[datetime | None]


class Pass(Base):
    """What lets someone in, kept only as a hash: a session, a personal link, or the first code.

    exercise: of a station's link, the machine at which the phone stands; person_id is then who made it.
    """

    __tablename__ = "pass"

    hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    kind: Mapped[str] = mapped_column(String(10))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"), index=True)
    made_from: Mapped[str | None] = mapped_column(String(64))
    exercise: Mapped[str | None] = mapped_column(String(80))
    expires_at: Mapped[datetime]
    revoked_at: Mapped[datetime | None]
    created_at: Mapped[datetime] = mapped_column(default=now)


class Throttle(Base):
    """Wrong attempts under one name, and until when no further one is looked at."""

    __tablename__ = "throttle"

    key: Mapped[str] = mapped_column(String(120), primary_key=True)
    wrong: Mapped[int] = mapped_column(default=0)
    locked_until: Mapped[datetime | None]
