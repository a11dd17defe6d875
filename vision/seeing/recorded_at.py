"""path -> when a file says that it was recorded."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from vision.seeing.container import open_container

#: Phones whose clock was never set count from 1904 or 1970.
EARLIEST = datetime(2010, 1, 1, tzinfo=UTC)


def recorded_at(path: Path) -> datetime | None:
    """The moment that the container names; None where it names none that can be.

    Some phones name the beginning there, others the end.

    Raises
    ------
    ClipError : the file cannot be opened.
    """
    with open_container(path) as container:
        said = container.metadata.get("creation_time", "")
    try:
        moment = datetime.fromisoformat(said)
    except ValueError:
        return None
    moment = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return moment if moment >= EARLIEST else None
