"""Whose card a station was just shown: the station is given a word for it, and nothing is written down.

A word holds the card's number and until when it counts, under a seal that nobody else can make. So it still
counts when the page was started anew in the middle of a set.
"""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections.abc import Callable
from pathlib import Path

#: A card counts once two stills in a row show it, no longer apart than this, s.
AGAIN_S = 10.0
#: A card names its owner's sets for so long after it was shown, s.
KEPT_S = 3600
KEY_BYTES = 32


class Seats:
    """Of each station the card that its last still showed. key: what words are sealed with."""

    def __init__(self, key: bytes, clock: Callable[[], float] = time.time):
        self._key, self._clock = key, clock
        self._lock, self._read = threading.Lock(), dict[str, tuple[int | None, float]]()

    def saw(self, station: str, card: int | None) -> str | None:
        """A still with a card or without; the word for it once two stills in a row show the same card."""
        with self._lock:
            now = self._clock()
            before, at = self._read.get(station, (None, now))
            same = card is not None and card == before and now - at <= AGAIN_S
            self._read[station] = card, now
        if card is None or not same:
            return None
        said = f"{card}.{round(now) + KEPT_S}"
        return f"{said}.{self._seal(station, said)}"

    def card(self, station: str, word: str) -> int | None:
        """The card that was shown to this station under a word; None where there is none any more."""
        said, _, seal = word.rpartition(".")
        if not hmac.compare_digest(seal.encode(), self._seal(station, said).encode()):
            return None
        card, until = said.split(".")
        return int(card) if self._clock() <= int(until) else None

    def _seal(self, station: str, said: str) -> str:
        return hmac.new(self._key, f"{station}.{said}".encode(), "sha256").hexdigest()


def key_at(path: Path) -> bytes:
    """The key that lies there; a new one where there is none, or one that was cut off."""
    key = path.read_bytes() if path.exists() else b""
    if len(key) != KEY_BYTES:
        key, part = secrets.token_bytes(KEY_BYTES), path.with_suffix(".part")
        path.parent.mkdir(parents=True, exist_ok=True)
        part.touch(0o600)
        part.write_bytes(key)
        part.replace(path)
    return key
