"""A bin for clips, who looked at whose, erasures that are not finished, and where backups were put."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add them."""
    op.add_column("training_set", sa.Column("binned_at", sa.DateTime(), nullable=True))
    op.execute("ALTER TABLE training_set ADD COLUMN binned_by INTEGER REFERENCES person (id)")
    op.create_table(
        "look",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("set_id", sa.Integer(), sa.ForeignKey("training_set.id"), nullable=False),
        sa.Column("by_id", sa.Integer(), sa.ForeignKey("person.id"), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.UniqueConstraint("set_id", "by_id", "day"),
    )
    op.create_table(
        "erasure",
        sa.Column("id", sa.Integer(), primary_key=True),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("sets", sa.JSON(), nullable=False),
        sa.Column("writing", sa.Boolean(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
    )
    op.create_table(
        "backup_made",
        sa.Column("place", sa.String(length=500), primary_key=True),
        sa.Column("at", sa.DateTime(), nullable=False),
    )
