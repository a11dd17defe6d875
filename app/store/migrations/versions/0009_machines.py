"""Limits for each side and the tempo asked, on a card and of the studio; marks of a set and of a machine."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0006"
branch_labels = None
depends_on = None

_BOUNDS = ("at_least_deg", "at_most_deg")


def upgrade() -> None:
    """A limit without a side held for both."""
    for name in [f"{side}_{bound}" for side in ("left", "right") for bound in _BOUNDS] + [
        "lift_s",
        "lower_s",
    ]:
        op.add_column("card", sa.Column(name, sa.Double(), nullable=True))
    for side in ("left", "right"):
        values = ", ".join(f"{side}_{bound} = {bound}" for bound in _BOUNDS)
        op.execute(f"UPDATE card SET {values} WHERE limit_side IS NULL OR limit_side = '{side}'")
    for name in (*_BOUNDS, "limit_side"):
        op.drop_column("card", name)
    op.add_column("training_set", sa.Column("marks", sa.JSON(), nullable=True))
    op.create_table(
        "studio",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("lift_s", sa.Double(), nullable=True),
        sa.Column("lower_s", sa.Double(), nullable=True),
        sa.Column("changed_at", sa.DateTime(), nullable=False),
        sa.Column("changed_by", sa.Integer(), sa.ForeignKey("person.id"), nullable=True),
    )
    op.create_table(
        "machine_marks",
        sa.Column("exercise", sa.String(length=80), primary_key=True),
        sa.Column("points", sa.JSON(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("by_id", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
    )
