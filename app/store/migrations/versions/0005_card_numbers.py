"""What a card says of a machine's parts, its limits as numbers, and when was last asked who is new."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Name the lever's pin as trainers do, and add the rest."""
    op.execute("ALTER TABLE card RENAME COLUMN pivot_stop TO lever_pin")
    for name in ("thigh_pad", "foot_support"):
        op.add_column("card", sa.Column(name, sa.String(length=80), nullable=False, server_default=""))
    for name in ("at_least_deg", "at_most_deg"):
        op.add_column("card", sa.Column(name, sa.Double(), nullable=True))
    op.add_column("card", sa.Column("limit_side", sa.String(length=5), nullable=True))
    op.add_column("person", sa.Column("asked_at_sets", sa.Integer(), nullable=False, server_default="0"))
