"""What the owner says of the room: machines, stacks, the load rule, units, and how long clips are kept."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the columns; empty ones leave what file and environment say."""
    columns: list[tuple[str, sa.types.TypeEngine[Any]]] = [
        ("machines", sa.JSON()),
        ("stacks", sa.JSON()),
        ("load_rule", sa.String(length=40)),
        ("reps_low", sa.Integer()),
        ("reps_high", sa.Integer()),
        ("weight_unit", sa.String(length=10)),
        ("length_unit", sa.String(length=10)),
        ("keep_clips_days", sa.Integer()),
    ]
    for name, kind in columns:
        op.add_column("studio", sa.Column(name, kind, nullable=True))
