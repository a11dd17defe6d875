"""The first form of the store."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def _person() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("login", sa.String(length=80), nullable=True),
        sa.Column("password", sa.String(length=200), nullable=True),
        sa.Column("height_cm", sa.Double(), nullable=True),
        sa.Column("beginner", sa.Boolean(), nullable=False),
        sa.Column("consent_at", sa.DateTime(), nullable=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("login"),
    )
    op.create_index("ix_person_role", "person", ["role"])


def _throttle() -> None:
    op.create_table(
        "throttle",
        sa.Column("key", sa.String(length=120), nullable=False),
        sa.Column("wrong", sa.Integer(), nullable=False),
        sa.Column("locked_until", sa.DateTime(), nullable=True),
        sa.PrimaryKeyConstraint("key"),
    )


def _card() -> None:
    op.create_table(
        "card",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("exercise", sa.String(length=80), nullable=False),
        sa.Column("seat", sa.String(length=80), nullable=False),
        sa.Column("back_pad", sa.String(length=80), nullable=False),
        sa.Column("pivot_stop", sa.String(length=80), nullable=False),
        sa.Column("start_position", sa.String(length=80), nullable=False),
        sa.Column("grip", sa.String(length=80), nullable=False),
        sa.Column("usual_load", sa.Double(), nullable=True),
        sa.Column("unit", sa.String(length=10), nullable=False),
        sa.Column("limits", sa.Text(), nullable=False),
        sa.Column("cleared", sa.Boolean(), nullable=False),
        sa.Column("changed_at", sa.DateTime(), nullable=False),
        sa.Column("changed_by", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["changed_by"],
            ["person.id"],
        ),
        sa.ForeignKeyConstraint(
            ["person_id"],
            ["person.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("person_id", "exercise"),
    )


def _pass() -> None:
    op.create_table(
        "pass",
        sa.Column("hash", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("made_from", sa.String(length=64), nullable=True),
        sa.Column("expires_at", sa.DateTime(), nullable=False),
        sa.Column("revoked_at", sa.DateTime(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"],
            ["person.id"],
        ),
        sa.PrimaryKeyConstraint("hash"),
    )
    op.create_index("ix_pass_person_id", "pass", ["person_id"])


def _training_set() -> None:
    op.create_table(
        "training_set",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("exercise", sa.String(length=80), nullable=False),
        sa.Column("clip", sa.String(length=64), nullable=True),
        sa.Column("clip_name", sa.String(length=200), nullable=False),
        sa.Column("load", sa.Double(), nullable=True),
        sa.Column("unit", sa.String(length=10), nullable=False),
        sa.Column("side", sa.String(length=5), nullable=True),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.Column("uploaded_at", sa.DateTime(), nullable=False),
        sa.Column("feeling", sa.String(length=20), nullable=True),
        sa.Column("pain_before", sa.Boolean(), nullable=False),
        sa.Column("pain_after", sa.Boolean(), nullable=False),
        sa.Column("pain_where", sa.Text(), nullable=False),
        sa.Column("status", sa.String(length=10), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=True),
        sa.Column("worry", sa.Integer(), nullable=False),
        sa.Column("worry_words", sa.Text(), nullable=False),
        sa.Column("reviewed_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"],
            ["person.id"],
        ),
        sa.UniqueConstraint("person_id", "clip"),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_set_person", "training_set", ["person_id", "exercise", "done_on"])
    op.create_index("ix_set_waiting", "training_set", ["reviewed_at", "worry", "uploaded_at"])


def _job() -> None:
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("step", sa.String(length=80), nullable=False),
        sa.Column("progress", sa.Double(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("attempt", sa.Integer(), nullable=False),
        sa.Column("lease_until", sa.DateTime(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("finished_at", sa.DateTime(), nullable=True),
        sa.ForeignKeyConstraint(
            ["set_id"],
            ["training_set.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_job_set", "job", ["set_id", "id"])
    op.create_index("ix_job_state", "job", ["state", "lease_until"])


def _reference() -> None:
    op.create_table(
        "reference",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("exercise", sa.String(length=80), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["by_id"],
            ["person.id"],
        ),
        sa.ForeignKeyConstraint(
            ["person_id"],
            ["person.id"],
        ),
        sa.ForeignKeyConstraint(
            ["set_id"],
            ["training_set.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("person_id", "exercise"),
    )


def _release() -> None:
    op.create_table(
        "release",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("body", sa.JSON(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["by_id"],
            ["person.id"],
        ),
        sa.ForeignKeyConstraint(
            ["set_id"],
            ["training_set.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_release_set", "release", ["set_id", "id"])


def _report() -> None:
    op.create_table(
        "report",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("annotated", sa.String(length=64), nullable=True),
        sa.Column("page", sa.String(length=64), nullable=True),
        sa.Column("pictures", sa.JSON(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["set_id"],
            ["training_set.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("set_id", "version"),
    )


def _decision() -> None:
    op.create_table(
        "decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=True),
        sa.Column("finding", sa.String(length=90), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("time_s", sa.Double(), nullable=True),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(
            ["by_id"],
            ["person.id"],
        ),
        sa.ForeignKeyConstraint(
            ["report_id"],
            ["report.id"],
        ),
        sa.ForeignKeyConstraint(
            ["set_id"],
            ["training_set.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_decision_set", "decision", ["set_id", "id"])


def upgrade() -> None:
    """Make all tables."""
    _person()
    _throttle()
    _card()
    _pass()
    _training_set()
    _job()
    _reference()
    _release()
    _report()
    _decision()
