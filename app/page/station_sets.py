"""What a station filmed: counted first, then kept under a member's name where every rule allows, else gone.

What came of a set is remembered in this process alone, for as long as the screen may show it.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict

from app.jobs.counting import Counting, counted
from app.page.station_seat import Seats
from app.page.studio import Studio
from app.store.arriving import Arriving, Clip, at_stations
from app.store.card_numbers import actor_of
from app.store.found_sets import Found, keep_found, key_of
from app.store.models import now
from app.store.stations import Station
from shared.errors import PlumbsetError

#: So long, s, what came of a set can be asked for.
ASKED_S = 600.0
#: Why a set was only counted, as its member reads it.
WHY_ONLY_COUNTED: Mapping[str, str] = {
    "no-card": "Only counted: nothing else is kept.",
    "no-member": "Only counted: this card is nobody's now. Ask the trainer for a new one.",
    "not-agreed": "Only counted: you have not agreed to be filmed. The trainer notes it when you do.",
    "not-asked": "Only counted: you did not say today that nothing hurts.",
    "pain": "Please see the trainer before you train on.",
}
FORGOTTEN = "What came of this set is not known any more."
NO_SET = "Three full repetitions make a set."


class Told(BaseModel):
    """What a station tells with a film. shown: the word for the card that it was shown, empty without one."""

    model_config = ConfigDict(extra="forbid")
    shown: str = ""


class Kept(BaseModel):
    """What is kept beside a film on its way. card: the number that was shown."""

    card: int | None
    moment: datetime


@dataclass(frozen=True)
class Outcome:
    """What came of a film. why: a key of ``WHY_ONLY_COUNTED``, empty where the set was kept as ``set_id``."""

    counting: Counting
    card: int | None = None
    set_id: int | None = None
    why: str = ""


class Sets:
    """The sets of all stations in this process. None: it is still being counted."""

    def __init__(self) -> None:
        self._lock, self._all = threading.Lock(), dict[str, tuple[float, Outcome | None]]()

    def begin(self, name: str) -> bool:
        """Whether nobody has taken this film up yet; from now on somebody has."""
        with self._lock:
            self._all = {n: one for n, one in self._all.items() if time.monotonic() - one[0] <= ASKED_S}
            if name in self._all:
                return False
            self._all[name] = time.monotonic(), None
            return True

    def end(self, name: str, outcome: Outcome) -> None:
        """Remember what came of a film, for a while from now on."""
        with self._lock:
            self._all[name] = time.monotonic(), outcome

    def of(self, name: str) -> Outcome | None:
        """What came of a film, None while it is counted; KeyError where nobody remembers it."""
        with self._lock:
            return self._all[name][1]


@lru_cache(maxsize=1)
def seats() -> Seats:
    """The cards shown to the stations of this process."""
    return Seats()


@lru_cache(maxsize=1)
def sets() -> Sets:
    """The sets of this process."""
    return Sets()


@dataclass(frozen=True)
class Filmed:
    """What a station sends, see ``app.page.tus.Taker``."""

    studio: Studio
    station: Station

    @property
    def owner(self) -> int:
        """Whose the films are on their way: nobody's among people."""
        return self.station.owner

    @property
    def clips(self) -> Arriving:
        """Apart from what people send."""
        return at_stations(self.studio.files.folder)

    def told(self, words: str) -> str:
        """The card behind the word that the station was given for it; the station never names one itself."""
        shown = Told.model_validate_json(words).shown
        card = seats().card(self.station.key, shown) if shown else None
        self.clips.tidy()
        return Kept(card=card, moment=now()).model_dump_json()

    def take(self, name: str) -> Clip:
        """Have a whole film counted; whoever asks twice has it counted once."""
        clip = self.clips.clip(name, self.owner)
        if clip.set_id is None and sets().begin(name):
            threading.Thread(target=self.count, args=(name, clip), daemon=True).start()
        return clip

    def count(self, name: str, clip: Clip) -> None:
        """Count a film, keep it where it may be kept, and delete it here, whatever happens."""
        outcome = Outcome(Counting(None, why="The set could not be counted."))
        try:
            outcome = self._counted(name, clip)
        except PlumbsetError as error:
            outcome = Outcome(Counting(None, why=str(error)))
        finally:
            self.clips.close(name, replace(clip, told="{}"), outcome.set_id or 0, known=False)
            sets().end(name, outcome)

    def _counted(self, name: str, clip: Clip) -> Outcome:
        told = Kept.model_validate_json(clip.told)
        with self.clips.whole(name) as stream:
            path = Path(stream.name)
        counting = counted(path, self.station.exercise)
        if not counting.is_set:
            return Outcome(counting)
        found = Found(key_of(name, 0.0), told.card, self.station.exercise, told.moment)
        with self.clips.whole(name) as stream:
            taken = keep_found(self.studio.database, self.studio.files, found, stream, clip.name)
        return Outcome(counting, told.card, taken.set_id, taken.why)


def said(studio: Studio, outcome: Outcome | None) -> dict[str, Any]:
    """What the screen shows of a set. more: the check still goes on, a cue may come."""
    if outcome is None:
        return {"state": "checking"}
    counting = outcome.counting
    if not counting.is_set:
        return {"state": "none", "why": counting.why or NO_SET}
    count, cue, more = counting.count, "", False
    actor = actor_of(studio.database, outcome.card) if outcome.card and outcome.set_id else None
    if actor is not None and outcome.set_id is not None:
        told = studio.access(actor).told(outcome.set_id)
        more = told.state == "checking"
        if told.state == "preliminary":
            count = told.count if told.count is not None else count
            cue = told.prompts[0].words if told.prompts else ""
    why = WHY_ONLY_COUNTED.get(outcome.why, "") or counting.why
    return {
        "state": "counted", "count": count, "tempo": counting.tempo, "why": why, "cue": cue, "more": more,
    }  # fmt: skip
