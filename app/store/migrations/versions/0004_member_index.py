"""An index from which the list of members is read alone."""

from __future__ import annotations

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add it."""
    op.create_index("ix_set_member", "training_set", ["person_id", "reviewed_at", "done_on"])
