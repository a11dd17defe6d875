"""The tables of the studio itself: what its trainers set, and where parts of machines were marked."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from app.store.base import Base, now


class Studio(Base):
    """What trainers set for the whole studio, one row. lift_s, lower_s: the tempo asked of everybody.

    hold_back: whether members read of a set only what a trainer has handed over. machines: those of the room
    in its order; stacks: {machine: fields of ``app.rules.stack.Stack``}; None, here and in what follows,
    leaves what file and environment say. proof: what checks must not tell more surely than, as
    ``shared.proof.Proof``.
    """

    __tablename__ = "studio"

    id: Mapped[int] = mapped_column(primary_key=True)
    lift_s: Mapped[float | None]
    lower_s: Mapped[float | None]
    hold_back: Mapped[bool] = mapped_column(default=True)
    machines: Mapped[list[Any] | None]
    stacks: Mapped[dict[str, Any] | None]
    load_rule: Mapped[str | None] = mapped_column(String(40))
    reps_low: Mapped[int | None]
    reps_high: Mapped[int | None]
    weight_unit: Mapped[str | None] = mapped_column(String(10))
    length_unit: Mapped[str | None] = mapped_column(String(10))
    keep_clips_days: Mapped[int | None]
    proof: Mapped[dict[str, Any] | None]
    changed_at: Mapped[datetime] = mapped_column(default=now, onupdate=now)
    changed_by: Mapped[int | None] = mapped_column(ForeignKey("person.id"))


class MachineMarks(Base):
    """Where the parts of a machine lay in the clip that was marked last.

    points: [{name, x, y, time_s}], pixels of an upright picture that is width by height. places: of marked
    clips with a frame board, as ``app.rules.machine_places.Kept``.
    """

    __tablename__ = "machine_marks"

    exercise: Mapped[str] = mapped_column(String(80), primary_key=True)
    points: Mapped[list[Any]]
    width: Mapped[int]
    height: Mapped[int]
    places: Mapped[list[Any] | None]
    at: Mapped[datetime] = mapped_column(default=now, onupdate=now)
    by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
