"""Where members' and trainers' clips come in: with its last byte a clip is a set of the store."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, BinaryIO

from pydantic import BaseModel, ConfigDict
from starlette.requests import Request

from app.jobs.early import Here, early_reader
from app.page.studio import acting, this_studio
from app.page.tus import tus_routes
from app.page.uploads import SEND
from app.store.access import Access, NewSet
from app.store.arriving import Arriving, ArrivingClip, arriving
from app.store.files import Files
from shared.exercise import find_exercise


class ToldWithClip(BaseModel):
    """What the page tells with a clip.

    agreed: someone ticked the agreement just now. second_of: the set that it is the second clip of; then the
    rest is that set's own.
    """

    model_config = ConfigDict(extra="forbid")
    person: int
    exercise: str
    done_on: date
    load: float | None = None
    unit: str = "kg"
    pain_before: bool = False
    agreed: bool = False
    second_of: int | None = None

    def new_set(self) -> NewSet:
        """The same for the store."""
        return NewSet(
            self.person, self.exercise, self.done_on, self.load, self.unit, pain_before=self.pain_before
        )


@dataclass(frozen=True)
class _Sender:
    """Who is signed in, sending clips."""

    access: Access
    clips: Arriving
    files: Files

    @property
    def owner(self) -> int:
        return self.access.actor.id

    def told(self, words: str) -> str:
        """See ``app.page.tus.Taker``."""
        access, told = self.access, ToldWithClip.model_validate_json(words)
        if told.second_of is not None:
            whose = told.model_copy(update={"person": access.may_pair(told.second_of)})
            return whose.model_dump_json()
        if told.agreed:
            access.consent(told.person)
        access.may_send(told.new_set())
        return told.model_dump_json()

    def so_far(self, name: str, clip: ArrivingClip, here: int) -> Sequence[str]:
        """Why the clip will not do and how to film it again, where that is certain before its end is here.

        Pain goes before it: nothing is said of the clip of somebody who is to see the trainer first.
        """
        told = ToldWithClip.model_validate_json(clip.told)
        if told.second_of is not None or told.pain_before or self.access.pain(told.person).stops:
            return ()
        share = here / clip.length
        against = early_reader().came(name, told.exercise, Here(self.clips.path(name), share))
        if not against:
            return ()
        how = [f"From the {view.name}. {view.film}" for view in find_exercise(told.exercise).views]
        return [*against, "Film it again like this:", *how]

    def take(self, name: str) -> ArrivingClip:
        """A set of a whole clip. Taken twice it is the same set: the store knows the clip again."""
        clips = self.clips
        with clips.held(name):
            clip = clips.clip(name, self.owner)
            if clip.set_id is not None:
                return clip
            with clips.whole(name) as stream:
                set_id, known = self._added(name, clip, stream)
            return clips.close(name, clip, set_id, known)

    def _added(self, name: str, clip: ArrivingClip, stream: BinaryIO) -> tuple[int, bool]:
        """The set that a clip became, and whether the very same clip had been sent before."""
        access, told = self.access, ToldWithClip.model_validate_json(clip.told)
        if told.second_of is not None:
            access.add_second(told.second_of, stream, clip.name)
            return told.second_of, False
        set_id, known = access.add_set(told.new_set(), stream, clip.name)
        address = access.set(set_id).clip
        if address and not known:
            early_reader().whole(name, Here(self.files.path(address), 1.0, set_id))
        return set_id, known


def _sender(request: Request) -> _Sender | None:
    studio = this_studio()
    actor = acting(studio, request.cookies, request.headers)
    if actor is None:
        return None
    return _Sender(studio.access(actor), arriving(studio.files.folder), studio.files)


def routes() -> list[Any]:
    """The addresses."""
    return tus_routes(SEND, _sender)
