"""When a clip was dropped because its time was over."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the date."""
    op.add_column("training_set", sa.Column("clip_dropped_at", sa.DateTime(), nullable=True))
