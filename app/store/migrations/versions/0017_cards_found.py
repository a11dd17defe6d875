"""Numbers of members' cards, their word that nothing hurts, and what became of sets that a phone found."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the tables; nobody had a card before."""
    op.create_table(
        "member_card",
        sa.Column("number", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("person_id", sa.Integer(), sa.ForeignKey("person.id"), nullable=True, unique=True),
        sa.Column("given_at", sa.DateTime(), nullable=False),
        sa.Column("ended_at", sa.DateTime(), nullable=True),
    )
    op.create_table(
        "no_pain",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("person_id", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
        sa.Column("by_id", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
    )
    op.create_index("ix_no_pain_person", "no_pain", ["person_id", "at"])
    op.create_table(
        "found_set",
        sa.Column("key", sa.String(length=64), primary_key=True),
        sa.Column("day", sa.Date(), nullable=False, index=True),
        sa.Column("exercise", sa.String(length=80), nullable=False),
        sa.Column("why", sa.String(length=20), nullable=False),
        sa.Column("set_id", sa.Integer(), sa.ForeignKey("training_set.id"), nullable=True),
    )
