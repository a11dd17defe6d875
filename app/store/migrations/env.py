"""Runs the steps on the connection that ``app.store.database.migrate`` hands over."""

from __future__ import annotations

from alembic import context

from app.store.tables import Base


def run() -> None:
    """Run the steps that are asked for."""
    connection = context.config.attributes["connection"]
    context.configure(connection=connection, target_metadata=Base.metadata, render_as_batch=True)
    context.run_migrations()


if __name__ == "env_py":  # the name under which Alembic loads this file
    run()
