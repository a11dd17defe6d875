"""What a station filmed: counted first, then kept under a member's name where every rule allows, else gone.

What goes with a film lies beside it, and in its place what came of it: so the next process takes up what one
that was killed had not counted yet (``take_up``), and the screen reads the count from there.
"""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from app.jobs.counting import Counting, counted
from app.page.station_seat import Seats, key_at
from app.page.studio import Studio
from app.store.arriving import Arriving, ArrivingClip, at_stations
from app.store.card_numbers import actor_of
from app.store.found_sets import Found, keep_found, key_of
from app.store.models import now
from app.store.stations import Station, working
from shared.errors import InputError, PlumbsetError

#: So long what came of a set can be asked for.
ASKED = timedelta(seconds=600)
#: What fails on our side, such as a database that is busy, is tried so often in all, so long apart in s.
TRIES, AGAIN_S = 3, 30.0
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


class ToldWithFilm(BaseModel):
    """What a station tells with a film. shown: the word for the card that it was shown, empty without one."""

    model_config = ConfigDict(extra="forbid")
    shown: str = ""


class Kept(BaseModel):
    """What is kept beside a film on its way. card: the number that was shown."""

    card: int | None
    moment: datetime


class StationOutcome(BaseModel):
    """What came of a film. why: a key of ``WHY_ONLY_COUNTED``, empty where the set was kept as ``set_id``.

    card: whose set it is, of one that was kept; at: when it was counted.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)
    counting: Counting
    card: int | None = None
    set_id: int | None = None
    why: str = ""
    at: datetime = Field(default_factory=now)


class Films:
    """The films that this process has taken up: each is counted once, however often it is asked for."""

    def __init__(self) -> None:
        self._lock, self._taken = threading.Lock(), set[str]()

    def first(self, name: str) -> bool:
        """Whether nobody has taken this film up yet; from now on somebody has."""
        with self._lock:
            first = name not in self._taken
            self._taken.add(name)
            return first


@lru_cache(maxsize=8)
def seats(files: Path) -> Seats:
    """The cards shown to the stations of a store, by where its files lie."""
    return Seats(key_at(files / ".station-key"))


@lru_cache(maxsize=1)
def films() -> Films:
    """The films of this process."""
    return Films()


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
        shown = ToldWithFilm.model_validate_json(words).shown
        card = seats(self.studio.files.folder).card(self.station.key, shown) if shown else None
        self.clips.tidy()
        return Kept(card=card, moment=now()).model_dump_json()

    def so_far(self, name: str, clip: ArrivingClip, here: int) -> Sequence[str]:
        """Nothing: a set is counted as soon as it is here."""
        return ()

    def take(self, name: str) -> ArrivingClip:
        """Have a whole film counted; whoever asks twice has it counted once."""
        clip = self.clips.clip(name, self.owner)
        if clip.set_id is None and films().first(name):
            threading.Thread(target=self.count, args=(name, clip), daemon=True).start()
        return clip

    def count(self, name: str, clip: ArrivingClip, tries: int = TRIES) -> None:
        """Count a film, keep it where it may be kept, and delete it here.

        What fails on our side is tried again; after so many tries the film waits for the next process, for
        what is left of its quarter of an hour.
        """
        done = False
        try:
            with suppress(PlumbsetError):
                outcome = self._counted(name, clip)
                told = outcome.model_dump_json()
                self.clips.close(name, replace(clip, told=told), outcome.set_id or 0, known=False)
                done = True
        finally:
            if not done and tries > 1:
                later = threading.Timer(AGAIN_S, self.count, args=(name, clip, tries - 1))
                later.daemon = True
                later.start()

    def _counted(self, name: str, clip: ArrivingClip) -> StationOutcome:
        """Raises PlumbsetError, or what nobody foresaw: it may be tried again, nothing is lost."""
        told = Kept.model_validate_json(clip.told)
        with self.clips.whole(name) as stream:
            path = Path(stream.name)
        try:
            counting = counted(path, self.station.exercise)
        except InputError as error:
            return StationOutcome(counting=Counting(None, why=str(error)))
        if not counting.is_set:
            return StationOutcome(counting=counting)
        found = Found(key_of(name, 0.0), told.card, self.station.exercise, told.moment)
        with self.clips.whole(name) as stream:
            taken = keep_found(self.studio.database, self.studio.files, found, stream, clip.name)
        whose = None if taken.set_id is None else told.card
        return StationOutcome(counting=counting, card=whose, set_id=taken.set_id, why=taken.why)


def take_up(studio: Studio) -> None:
    """Count the films that an earlier process did not come to; those of stations that were ended go."""
    clips = at_stations(studio.files.folder)
    clips.tidy()
    stations = {station.owner: station for station in working(studio.database)}
    for name, clip in clips.whole_ones():
        if clip.owner in stations:
            Filmed(studio, stations[clip.owner]).take(name)
        else:
            clips.drop(name)


def said(studio: Studio, clip: ArrivingClip) -> dict[str, Any]:
    """What the screen shows of a set. more: the check still goes on, a cue may come."""
    if clip.set_id is None:
        return {"state": "checking"}
    outcome = StationOutcome.model_validate_json(clip.told)
    if now() - outcome.at > ASKED:
        return {"state": "none", "why": FORGOTTEN}
    counting = outcome.counting
    if not counting.is_set:
        return {"state": "none", "why": counting.why or NO_SET}
    count, cue, more = counting.count, "", False
    actor = actor_of(studio.database, outcome.card) if outcome.card else None
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
