"""Links for phones on a stand, each at one machine."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; what lets people in has no machine."""
    op.add_column("pass", sa.Column("exercise", sa.String(80), nullable=True))
