"""Pain, place and feeling are only ever added and cleared by a trainer; who wrote an agreement down."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add both tables; what was told so far is told, and cleared where a trainer has handed the set over."""
    op.create_table(
        "telling",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("pain", sa.Boolean(), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("feeling", sa.String(length=20), nullable=True),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["set_id"], ["training_set.id"]),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_telling_set_id", "telling", ["set_id"])
    op.create_table(
        "cleared",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("set_id", sa.Integer(), nullable=False),
        sa.Column("telling_id", sa.Integer(), nullable=False),
        sa.Column("by_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["set_id"], ["training_set.id"]),
        sa.ForeignKeyConstraint(["telling_id"], ["telling.id"]),
        sa.ForeignKeyConstraint(["by_id"], ["person.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("ix_cleared_telling_id", "cleared", ["telling_id"])
    op.add_column("person", sa.Column("consent_by", sa.String(length=80), nullable=True))
    op.execute(
        "INSERT INTO telling (set_id, pain, place, feeling, by_id, at) "
        "SELECT id, (pain_before OR pain_after), pain_where, feeling, person_id, uploaded_at "
        "FROM training_set WHERE pain_before OR pain_after OR feeling IS NOT NULL ORDER BY id"
    )
    op.execute(
        "INSERT INTO cleared (set_id, telling_id, by_id, at) "
        "SELECT t.set_id, t.id, r.by_id, s.reviewed_at FROM telling t "
        "JOIN training_set s ON s.id = t.set_id "
        'JOIN "release" r ON r.id = (SELECT MAX(id) FROM "release" WHERE set_id = s.id) '
        "WHERE t.pain AND s.reviewed_at IS NOT NULL"
    )
