"""Whose card a station was just shown: kept in this process alone, and forgotten after a while."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field

#: A card counts once two stills in a row show it, no longer apart than this, s.
AGAIN_S = 10.0
#: A card names its owner's sets until it was not asked for for so long, s.
KEPT_S = 1800.0


@dataclass
class _Seat:
    read: int | None = None
    read_at: float = 0.0
    shown: dict[str, tuple[int, float]] = field(default_factory=dict)


class Seats:
    """Of each station the card it was just shown, under a word that nobody can guess."""

    def __init__(self, clock: Callable[[], float] = time.monotonic):
        self._clock, self._lock, self._seats = clock, threading.Lock(), dict[str, _Seat]()

    def saw(self, station: str, card: int | None) -> str | None:
        """A still with a card or without; the word for it once two stills in a row show the same card."""
        with self._lock:
            seat, now = self._of(station), self._clock()
            same = card is not None and card == seat.read and now - seat.read_at <= AGAIN_S
            seat.read, seat.read_at = card, now
            if card is None or not same:
                return None
            word = secrets.token_urlsafe(16)
            seat.shown[word] = card, now
            return word

    def card(self, station: str, word: str) -> int | None:
        """The card that was shown to this station under a word; None where there is none any more."""
        with self._lock:
            seat, now = self._of(station), self._clock()
            card = seat.shown[word][0] if word in seat.shown else None
            if card is not None:
                seat.shown[word] = card, now
            return card

    def _of(self, station: str) -> _Seat:
        seat, now = self._seats.setdefault(station, _Seat()), self._clock()
        seat.shown = {word: one for word, one in seat.shown.items() if now - one[1] <= KEPT_S}
        return seat
