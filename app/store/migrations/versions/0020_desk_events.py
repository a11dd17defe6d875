"""By which event of the desk a decision was made, and whether a set waited before it was handed over."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

OF_ANOTHER_MACHINE = """
DELETE FROM reference WHERE EXISTS (
    SELECT 1 FROM training_set
    WHERE training_set.id = reference.set_id AND training_set.exercise <> reference.exercise
)
"""


def upgrade() -> None:
    """Add both, and drop approved sets that were checked as another machine's since."""
    op.add_column("decision", sa.Column("event", sa.BigInteger(), nullable=True))
    op.add_column("release", sa.Column("looked_at", sa.DateTime(), nullable=True))
    op.execute(OF_ANOTHER_MACHINE)
