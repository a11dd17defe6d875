"""What a check says of itself while it follows a set: from the survey on, its first words."""

from __future__ import annotations

from textwrap import shorten
from typing import TYPE_CHECKING

from app.jobs.contained import Say

if TYPE_CHECKING:
    from vision.telling.first_look import FirstLook

#: A step is no longer than this.
MOST_LETTERS = 80


class Following:
    """Says how far a check is under the name of what it knows; called with a share from 0 to 1."""

    def __init__(self, say: Say):
        self._say, self._step = say, "Following the set"

    def __call__(self, share: float) -> None:
        """Say that so much is done."""
        self._say(self._step, share)

    def first(self, look: FirstLook) -> None:
        """From now on the first words of the set are said."""
        self._step = shorten(look.words, MOST_LETTERS, placeholder=" ...")
