"""A report keeps its signals: later sets are held against those of the approved one."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add their address."""
    op.add_column("report", sa.Column("signals", sa.String(length=64), nullable=True))
