"""A set's clip from another side."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; every set had one clip before."""
    op.add_column("training_set", sa.Column("second_clip", sa.String(length=64), nullable=True))
    op.add_column("training_set", sa.Column("second_name", sa.String(length=200), nullable=True))
