"""Clips that come in piece by piece, by the open tus protocol 1.0.0 (https://tus.io/protocols/resumable-upload).

A clip is begun, asked for, gone on with, thrown away. Whose it is and what becomes of it says a ``Taker``.

Every request must carry the protocol's own header, which another page's form or picture cannot send.
"""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Awaitable, Callable, Mapping, Sequence
from typing import Any, Protocol
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from app.page.theme import LARGEST_CLIP_MB
from app.page.uploads import PAGE_MB
from app.store.arriving import Arriving, ArrivingClip, Overtaken, Unknown
from shared.errors import InternalError, PlumbsetError, UsageError

VERSION = {"Tus-Resumable": "1.0.0", "Cache-Control": "no-store"}
OFFERED = {"Tus-Version": "1.0.0", "Tus-Extension": "creation,termination",
           "Tus-Max-Size": str(LARGEST_CLIP_MB * 1_000_000)}  # fmt: skip
#: What a clip became: the number of its set, and that the very same one had been sent before.
SET, KNOWN = "Plumbset-Set", "Plumbset-Known"
#: What can be said of a clip of which a part is here: paragraphs as JSON, percent-encoded.
SO_FAR = "Plumbset-So-Far"
_PIECE = 1 << 20
NOT_READ = "What was told with the clip cannot be read; load the page anew and send it again."
TOO_MUCH = "Too many clips are on their way at once; wait until one has arrived, or throw one away."


class Taker(Protocol):
    """Who sends clips, where they grow, and what becomes of them."""

    @property
    def owner(self) -> int:
        """Whose the clips are on their way."""

    @property
    def clips(self) -> Arriving:
        """Where they grow."""

    def told(self, words: str) -> str:
        """What is kept beside a clip that is about to begin; whatever would be refused at its end is refused.

        Raises
        ------
        ValueError : the words cannot be read. PlumbsetError : the clip would be refused.
        """

    def so_far(self, name: str, clip: ArrivingClip, here: int) -> Sequence[str]:
        """What can be said of a clip of which so many bytes are here, in paragraphs; mostly nothing."""

    def take(self, name: str) -> ArrivingClip:
        """Make of a whole clip what it is to become; done twice it becomes the same."""


TakerOf = Callable[[Request], Taker | None]
Answer = Callable[[Request, Taker], Awaitable[Response]]


def _answered(answer: Answer, taker_of: TakerOf) -> Callable[[Request], Awaitable[Response]]:
    """The same for whoever may send, every refusal as a sentence."""

    async def answering(request: Request) -> Response:
        if request.headers.get("tus-resumable") != VERSION["Tus-Resumable"]:
            return _said("This address takes clips by the tus protocol 1.0.0.", 412, **OFFERED)
        try:
            taker = await run_in_threadpool(taker_of, request)
            if taker is None:
                return _said("Sign in first.", 401)
            return await answer(request, taker)
        except Unknown as error:
            return _said(str(error), 404)
        except Overtaken as error:
            return _said(str(error), 409)
        except PlumbsetError as error:
            return _said(str(error), 503 if isinstance(error, InternalError) else 422)

    return answering


async def _offers(request: Request) -> Response:
    """What of the protocol is spoken here."""
    return Response(status_code=204, headers={**VERSION, **OFFERED})


async def _begin(request: Request, taker: Taker) -> Response:
    """A new clip."""
    length = _number(request, "upload-length")
    if length > LARGEST_CLIP_MB * 1_000_000:
        return _said(f"The clip is larger than {LARGEST_CLIP_MB} MB; film a shorter one.", 413)
    given = _given(request)
    if not length:
        raise UsageError("The clip is empty; film it again.")

    def begin() -> str | None:
        if taker.clips.under_way(taker.owner) + length > PAGE_MB * 1_000_000:
            return None
        try:
            told = taker.told(given["told"])
        except (KeyError, ValueError):
            raise UsageError(NOT_READ) from None
        return taker.clips.begin(ArrivingClip(taker.owner, length, told, given.get("name", "")[:200]))

    name = await run_in_threadpool(begin)
    if name is None:
        return _said(TOO_MUCH, 413)
    at = request.url.path.rstrip("/")
    return Response(status_code=201, headers={**VERSION, "Location": f"{at}/{name}"})


async def _look(request: Request, taker: Taker) -> Response:
    """How much of a clip is here; older requests write no more."""
    name = request.path_params["name"]
    await run_in_threadpool(taker.clips.take_turn, name, taker.owner)
    return await _now_here(name, taker)


async def _go_on(request: Request, taker: Taker) -> Response:
    """The next bytes of a clip, kept as far as they come."""
    if request.headers.get("content-type") != "application/offset+octet-stream":
        return _said("A piece of a clip comes as application/offset+octet-stream.", 415)
    name, at, clips = request.path_params["name"], _number(request, "upload-offset"), taker.clips
    clip, turn, here = await run_in_threadpool(clips.take_turn, name, taker.owner)
    if clip.set_id is not None:
        return _here(clip, here)
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
    return await _now_here(name, taker)


async def _now_here(name: str, taker: Taker) -> Response:
    """How much of a clip is here by now; one that is whole and not taken yet is taken before the answer."""
    clip, here = await run_in_threadpool(taker.clips.settle, name, taker.owner)
    if here < clip.length:
        return _here(clip, here, await run_in_threadpool(taker.so_far, name, clip, here))
    return _here(clip if clip.set_id is not None else await run_in_threadpool(taker.take, name), here)


async def _throw_away(request: Request, taker: Taker) -> Response:
    name = request.path_params["name"]
    await run_in_threadpool(taker.clips.clip, name, taker.owner)
    await run_in_threadpool(taker.clips.drop, name)
    return Response(status_code=204, headers=VERSION)


def _here(clip: ArrivingClip, here: int, said: Sequence[str] = ()) -> Response:
    headers = {**VERSION, "Upload-Offset": str(here), "Upload-Length": str(clip.length)}
    if clip.set_id is not None:
        headers |= {SET: str(clip.set_id), **({KNOWN: "1"} if clip.known else {})}
    if said:
        headers[SO_FAR] = quote(json.dumps(list(said)))
    return Response(status_code=204, headers=headers)


def _said(words: str, status: int, **more: str) -> Response:
    return PlainTextResponse(words, status, headers={**VERSION, **more})


def _number(request: Request, header: str) -> int:
    said = request.headers.get(header, "")
    if not (said.isascii() and said.isdigit() and len(said) < 16):
        raise UsageError(f"The header {header} must be a whole number.")
    return int(said)


def _given(request: Request) -> Mapping[str, str]:
    """What the header Upload-Metadata says: ``told`` as JSON, ``name`` of the file."""
    try:
        words = [w.split(" ") for w in request.headers.get("upload-metadata", "").split(",")]
        return {key: base64.b64decode(value, validate=True).decode() for key, value in words}
    except (ValueError, binascii.Error):
        raise UsageError(NOT_READ) from None


def tus_routes(at: str, taker_of: TakerOf) -> list[Any]:
    """The addresses below one. taker_of: who sends by a request, None for nobody who may."""
    one = at + "/{name}"
    answers: list[tuple[str, Answer, str]] = [
        (at, _begin, "POST"), (one, _look, "HEAD"), (one, _go_on, "PATCH"), (one, _throw_away, "DELETE"),
    ]  # fmt: skip
    return [
        Route(at, _offers, methods=["OPTIONS"]),
        *(Route(path, _answered(answer, taker_of), methods=[method]) for path, answer, method in answers),
    ]
