"""The circuit of the day, a member's own limits on a card, and the e-mail for the studio's provider."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add what the circuit, own limits and the provider need."""
    op.add_column("person", sa.Column("email", sa.String(length=254), nullable=True))
    op.add_column("person", sa.Column("circuit", sa.JSON(), nullable=True))
    op.create_index("ix_person_email", "person", ["email"], unique=True)
    op.add_column("card", sa.Column("own_limits", sa.JSON(), nullable=True))
    op.create_table(
        "done",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("exercise", sa.String(length=80), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("person_id", "day", "exercise"),
    )
