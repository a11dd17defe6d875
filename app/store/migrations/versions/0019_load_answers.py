"""What trainers answered to the question about the load."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table; nobody could answer before."""
    op.create_table(
        "load_answer",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("person_id", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
        sa.Column("exercise", sa.String(length=80), nullable=False),
        sa.Column("set_id", sa.Integer(), sa.ForeignKey("training_set.id"), nullable=False),
        sa.Column("choice", sa.String(length=10), nullable=False),
        sa.Column("asked", sa.String(length=30), nullable=False),
        sa.Column("before", sa.Double(), nullable=False),
        sa.Column("load", sa.Double(), nullable=False),
        sa.Column("unit", sa.String(length=10), nullable=False),
        sa.Column("card_load", sa.Double(), nullable=True),
        sa.Column("card_unit", sa.String(length=10), nullable=False),
        sa.Column("by_id", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
    )
    op.create_index("ix_load_answer_person", "load_answer", ["person_id", "exercise", "id"])
