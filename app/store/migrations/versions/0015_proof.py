"""What printed tags proved of the studio's own clips, where later checks are to go by it."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; where it is empty checks tell as surely as they did."""
    op.add_column("studio", sa.Column("proof", sa.JSON(), nullable=True))
