"""${message}"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

from app.store.models import Utc

revision = ${repr(up_revision)}
down_revision = ${repr(down_revision)}


def upgrade() -> None:
    """Apply this step."""
    ${upgrades if upgrades else "pass"}
