"""Runs the steps on the connection that ``app.store.database.migrate`` hands over."""

from __future__ import annotations

from alembic import context

from app.store.models import Base

context.configure(
    connection=context.config.attributes["connection"], target_metadata=Base.metadata, render_as_batch=True
)
context.run_migrations()
