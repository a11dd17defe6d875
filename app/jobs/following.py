"""What a check says of itself while it follows a set: from the survey on, its first words."""

from __future__ import annotations

from textwrap import shorten
from typing import TYPE_CHECKING

from app.jobs.contained import Say

if TYPE_CHECKING:
    from vision.telling.first_look import FirstLook

FOLLOWING = "Following the set"
#: A step is no longer than this.
MOST_LETTERS = 80


class Following:
    """Says how far a check is under the name of what it knows; called with a share from 0 to 1."""

    def __init__(self, say: Say, of_all: float = 1.0):
        """of_all: the share that following the set is of all that is to be done."""
        self._say, self._of_all, self._share = say, of_all, 0.0
        self._step = FOLLOWING

    def __call__(self, share: float) -> None:
        """Say that so much is done."""
        self._share = self._of_all * share
        self._say(self._step, self._share)

    def first(self, look: FirstLook) -> None:
        """Say the first words of the set, and from now on in place of the step."""
        self._step = shorten(look.words, MOST_LETTERS, placeholder=" ...")
        self._say(self._step, self._share, look)
