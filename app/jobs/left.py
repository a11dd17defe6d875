"""What a contained process left in its folder: plain files of its own, or nothing is taken."""

from __future__ import annotations

from pathlib import Path

from app.jobs.contained import OURS
from shared.errors import InternalError


def own(folder: Path, name: str) -> Path:
    """The file of that name in a folder that an ended process wrote into.

    Raises
    ------
    InternalError : it is a link to something else, or no plain file: reading it would read another's.
    """
    place = folder / name
    if place.resolve() != folder.parent.resolve() / folder.name / name or not place.is_file():
        raise InternalError(OURS)
    if place.stat().st_nlink != 1:
        raise InternalError(OURS)
    return place
