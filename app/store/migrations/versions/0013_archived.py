"""Since when a member is archived."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; nobody was archived before."""
    op.add_column("person", sa.Column("archived_at", sa.DateTime(), nullable=True))
