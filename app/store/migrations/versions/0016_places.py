"""Where the parts of a machine lie against its frame board, so that later clips need no marks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the column; where it is empty every clip is marked by hand, as before."""
    op.add_column("machine_marks", sa.Column("places", sa.JSON(), nullable=True))
