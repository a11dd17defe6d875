"""Where clips come in piece by piece, by the open tus protocol 1.0.0 (https://tus.io/protocols/resumable-upload):
a clip is begun, asked for, gone on with, thrown away. With its last byte it is a set of the store.

Every request must carry the protocol's own header, which another page's form or picture cannot send.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Awaitable, Callable
from dataclasses import replace
from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from app.page.studio import acting, this_studio
from app.page.theme import LARGEST_CLIP_MB
from app.page.uploads import PAGE_MB, SEND
from app.store.access import Access, NewSet
from app.store.arriving import Arriving, Clip, Overtaken, Unknown, arriving
from shared.errors import InternalError, PlumbsetError, UsageError

VERSION = {"Tus-Resumable": "1.0.0", "Cache-Control": "no-store"}
OFFERED = {"Tus-Version": "1.0.0", "Tus-Extension": "creation,termination",
           "Tus-Max-Size": str(LARGEST_CLIP_MB * 1_000_000)}  # fmt: skip
#: What a clip became: the number of its set, and that the very same one had been sent before.
SET, KNOWN = "Plumbset-Set", "Plumbset-Known"
_PIECE = 1 << 20
NOT_READ = "What was told with the clip cannot be read; load the page anew and send it again."
TOO_MUCH = "Too many clips are on their way at once; wait until one has arrived, or throw one away."


class Told(BaseModel):
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


Answer = Callable[[Request, Access, Arriving], Awaitable[Response]]


def _answered(answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    """The same for whoever is signed in, every refusal as a sentence."""

    async def answering(request: Request) -> Response:
        if request.headers.get("tus-resumable") != VERSION["Tus-Resumable"]:
            return _said("This address takes clips by the tus protocol 1.0.0.", 412, **OFFERED)
        studio = this_studio()
        try:
            actor = await run_in_threadpool(acting, studio, request.cookies, request.headers)
            if actor is None:
                return _said("Sign in first.", 401)
            return await answer(request, studio.access(actor), arriving(studio.files.folder))
        except Unknown as error:
            return _said(str(error), 404)
        except Overtaken as error:
            return _said(str(error), 409)
        except PlumbsetError as error:
            return _said(str(error), 503 if isinstance(error, InternalError) else 422)

    return answering


async def offers(request: Request) -> Response:
    """What of the protocol is spoken here."""
    return Response(status_code=204, headers={**VERSION, **OFFERED})


async def _begin(request: Request, access: Access, clips: Arriving) -> Response:
    """A new clip; whatever would be refused at its end is refused here."""
    length = _number(request, "upload-length")
    if length > LARGEST_CLIP_MB * 1_000_000:
        return _said(f"The clip is larger than {LARGEST_CLIP_MB} MB; film a shorter one.", 413)
    clip, told = _told(request, access.actor.id, length)

    def begin() -> str | None:
        if clips.under_way(access.actor.id) + length > PAGE_MB * 1_000_000:
            return None
        if told.second_of is not None:
            whose = told.model_copy(update={"person": access.may_pair(told.second_of)})
            return clips.begin(replace(clip, told=whose.model_dump_json()))
        if told.agreed:
            access.consent(told.person)
        access.may_send(told.new_set())
        return clips.begin(clip)

    name = await run_in_threadpool(begin)
    if name is None:
        return _said(TOO_MUCH, 413)
    return Response(status_code=201, headers={**VERSION, "Location": f"{SEND}/{name}"})


async def _look(request: Request, access: Access, clips: Arriving) -> Response:
    """How much of a clip is here; one that is whole and no set yet becomes one before the answer."""
    name = request.path_params["name"]
    clip = await run_in_threadpool(clips.clip, name, access.actor.id)
    if clip.set_id is None:
        await run_in_threadpool(clips.take_turn, name)
        here = await run_in_threadpool(clips.settle, name)
        if here < clip.length:
            return _here(clip, here)
        clip = await run_in_threadpool(_into_store, access, clips, name)
    return _here(clip, clip.length)


async def _go_on(request: Request, access: Access, clips: Arriving) -> Response:
    """The next bytes of a clip, kept as far as they come."""
    if request.headers.get("content-type") != "application/offset+octet-stream":
        return _said("A piece of a clip comes as application/offset+octet-stream.", 415)
    name, at = request.path_params["name"], _number(request, "upload-offset")
    clip = await run_in_threadpool(clips.clip, name, access.actor.id)
    if clip.set_id is not None:
        return _here(clip, clip.length)
    turn, here = await run_in_threadpool(clips.take_turn, name)
    if at != here:
        raise Overtaken
    waiting = bytearray()

    async def keep() -> None:
        nonlocal at
        await run_in_threadpool(clips.add, name, turn, at, bytes(waiting))
        at += len(waiting)
        waiting.clear()

    try:
        async for part in request.stream():
            if at + len(waiting) + len(part) > clip.length:
                return _said("The piece is longer than what is missing of the clip.", 413)
            waiting += part
            if len(waiting) >= _PIECE:
                await keep()
    except ClientDisconnect:
        await keep()  # nobody hears the answer; the next request goes on from here
        return Response(status_code=204)
    await keep()
    here = await run_in_threadpool(clips.settle, name)
    if here == clip.length:
        clip = await run_in_threadpool(_into_store, access, clips, name)
    return _here(clip, here)


async def _throw_away(request: Request, access: Access, clips: Arriving) -> Response:
    name = request.path_params["name"]
    await run_in_threadpool(clips.clip, name, access.actor.id)
    await run_in_threadpool(clips.drop, name)
    return Response(status_code=204, headers=VERSION)


def _into_store(access: Access, clips: Arriving, name: str) -> Clip:
    """Make a set of a whole clip. Done twice it gives the same set: the store knows the clip again."""
    with clips.whole(name) as stream:
        clip = clips.clip(name, access.actor.id)
        if clip.set_id is not None:
            return clip
        told = Told.model_validate_json(clip.told)
        if told.second_of is not None:
            access.add_second(told.second_of, stream, clip.name)
            return clips.close(name, clip, told.second_of, known=False)
        set_id, known = access.add_set(told.new_set(), stream, clip.name)
        return clips.close(name, clip, set_id, known)


def _here(clip: Clip, here: int) -> Response:
    headers = {**VERSION, "Upload-Offset": str(here), "Upload-Length": str(clip.length)}
    if clip.set_id is not None:
        headers |= {SET: str(clip.set_id), **({KNOWN: "1"} if clip.known else {})}
    return Response(status_code=204, headers=headers)


def _said(words: str, status: int, **more: str) -> Response:
    return PlainTextResponse(words, status, headers={**VERSION, **more})


def _number(request: Request, header: str) -> int:
    said = request.headers.get(header, "")
    if not (said.isascii() and said.isdigit() and len(said) < 16):
        raise UsageError(f"The header {header} must be a whole number.")
    return int(said)


def _told(request: Request, owner: int, length: int) -> tuple[Clip, Told]:
    """What the header Upload-Metadata says: ``told`` as JSON, ``name`` of the file."""
    try:
        words = [w.split(" ") for w in request.headers.get("upload-metadata", "").split(",")]
        given = {key: base64.b64decode(value, validate=True).decode() for key, value in words}
        told = Told.model_validate_json(given["told"])
    except (KeyError, ValueError, binascii.Error, ValidationError):
        raise UsageError(NOT_READ) from None
    if not length:
        raise UsageError("The clip is empty; film it again.")
    return Clip(owner, length, told.model_dump_json(), given.get("name", "")[:200]), told


def routes() -> list[Any]:
    """The addresses."""
    one = SEND + "/{name}"
    return [
        Route(SEND, offers, methods=["OPTIONS"]),
        Route(SEND, _answered(_begin), methods=["POST"]),
        Route(one, _answered(_look), methods=["HEAD"]),
        Route(one, _answered(_go_on), methods=["PATCH"]),
        Route(one, _answered(_throw_away), methods=["DELETE"]),
    ]
