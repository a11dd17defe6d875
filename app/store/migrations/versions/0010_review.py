"""What is drawn over a clip, the place that a trainer's words point at, and what members read when."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; a studio holds back until it says otherwise."""
    op.add_column("report", sa.Column("moving", sa.String(length=64), nullable=True))
    op.add_column("decision", sa.Column("place_x", sa.Double(), nullable=True))
    op.add_column("decision", sa.Column("place_y", sa.Double(), nullable=True))
    op.add_column("studio", sa.Column("hold_back", sa.Boolean(), nullable=False, server_default=sa.true()))
