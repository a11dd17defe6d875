"""A trainer's own count of a set, and the check that should have seen what was missed."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; nothing was counted by hand before."""
    op.add_column("training_set", sa.Column("counted", sa.Integer(), nullable=True))
    op.add_column("decision", sa.Column("check_id", sa.String(length=80), nullable=True))
