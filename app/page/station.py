"""The page for a phone on a stand at one machine, by a link of its own that opens this page and nothing else.

Of members it reads the first name of whose card was just shown, whether they are to see the trainer, and
what they read of the set just done. Stills are looked at and never written down.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import lru_cache
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from pydantic import BaseModel, ConfigDict, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from app.jobs.counting import get_ready
from app.page.entry import OTHER_PAGE, same_origin, show_page
from app.page.station_sets import WHY_ONLY_COUNTED, Filmed, said, seats
from app.page.still import stills
from app.page.studio import COOKIE, Studio, this_studio
from app.page.theme import ASSETS, FONT, TYPEFACE_AT
from app.page.tus import tus_routes
from app.page.typeface import face
from app.page.uploads import Uploads
from app.rules.words import title_of
from app.store import signin
from app.store.arriving import Unknown
from app.store.card_numbers import actor_of
from app.store.found_sets import Found, why_not
from app.store.models import now
from app.store.rules import Actor
from app.store.stations import DAYS, Station, station_of
from shared.errors import InternalError, PlumbsetError, UsageError
from vision.common.cautions import SHORT_CAUTION

STATION = "/station"
SENDING = f"{STATION}/sending"
#: What the phone keeps: the secret of its link, for these addresses alone.
KEPT = "plumbset_station"
#: No still is as long as this, in bytes.
STILL_BYTES = 2_000_000
ENDED = "This phone is no station any more. Ask a trainer for a new station link."
NO_WORD = "Show your card again."
_HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
    "font-src 'self'; img-src 'self' data:; media-src 'self' blob:; connect-src 'self'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'",
}
Answer = Callable[[Request, Studio, Station], Awaitable[Response]]


class Pain(BaseModel):
    """The answer to the question about pain. shown: the word for the card that was shown."""

    model_config = ConfigDict(extra="forbid")
    shown: str
    pain: bool


def enter(request: Request) -> Response:
    """Make this browser a station by its link; the secret leaves the address at once.

    A browser in which somebody is signed in is asked first: it is signed out.
    """
    studio, secret = this_studio(), request.path_params["secret"]
    if request.method == "POST" and not same_origin(request.headers):
        return PlainTextResponse(OTHER_PAGE, 403)
    try:
        station = station_of(studio.database, secret)
        if station is None:
            return PlainTextResponse(ENDED, 401, headers=_HEADERS)
        actor = signin.who(studio.database, request.cookies.get(COOKIE))
        if actor is not None and request.method != "POST":
            title = title_of(station.exercise)
            return show_page("station", trainer=actor.name, machine=title, action=f"{STATION}/enter/{secret}")
        if actor is not None:
            signin.sign_out(studio.database, request.cookies[COOKIE])
    except PlumbsetError as error:
        return PlainTextResponse(str(error), 503, headers=_HEADERS)
    answer = RedirectResponse(STATION, 303, headers=_HEADERS)
    answer.delete_cookie(COOKIE)
    answer.set_cookie(
        KEPT, secret, max_age=DAYS * 86_400, path=STATION, httponly=True, samesite="lax",
        secure=request.url.scheme == "https" or request.headers.get("x-forwarded-proto") == "https",
    )  # fmt: skip
    return answer


def _of(request: Request) -> Station | None:
    return station_of(this_studio().database, request.cookies.get(KEPT))


def _answered(answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    """The same for a station that works, every refusal as a sentence."""

    async def answering(request: Request) -> Response:
        try:
            if not same_origin(request.headers):
                return PlainTextResponse(OTHER_PAGE, 403)
            station = await run_in_threadpool(_of, request)
            if station is None:
                return PlainTextResponse(ENDED, 401, headers=_HEADERS)
            return await answer(request, this_studio(), station)
        except Unknown as error:
            return PlainTextResponse(str(error), 404, headers=_HEADERS)
        except PlumbsetError as error:
            status = 503 if isinstance(error, InternalError) else 422
            return PlainTextResponse(str(error), status, headers=_HEADERS)

    return answering


async def show(request: Request, studio: Studio, station: Station) -> Response:
    """The page itself."""
    page = Environment(
        loader=FileSystemLoader(ASSETS), autoescape=True, undefined=StrictUndefined
    ).get_template("station.html")
    stills().warm()
    await run_in_threadpool(get_ready)
    look = {"face": Markup(face(TYPEFACE_AT)), "font": Markup(FONT)}
    title = title_of(station.exercise)
    return HTMLResponse(page.render(title=title, caution=SHORT_CAUTION, **look), headers=_HEADERS)


async def framing(request: Request, studio: Studio, station: Station) -> Response:
    """What stands against filming like this, in sentences; empty where the framing will do."""
    picture = await _body(request)
    return _json(await run_in_threadpool(stills().look, picture, station.exercise))


async def card(request: Request, studio: Studio, station: Station) -> Response:
    """Whose card a still shows; nothing is said until two in a row show the same."""
    picture = await _body(request)

    def read() -> dict[str, Any]:
        number = stills().card(picture)
        word = seats(studio.files.folder).saw(station.key, number)
        return {"read": False} if number is None or word is None else _shown(studio, station, number, word)

    return _json(await run_in_threadpool(read))


async def pain(request: Request, studio: Studio, station: Station) -> Response:
    """Keep the answer to the question about pain, of whose card was just shown."""
    try:
        told = Pain.model_validate_json(await _body(request))
    except ValidationError:
        raise UsageError("This answer cannot be read; load the page anew.") from None

    def keep() -> dict[str, Any]:
        number = seats(studio.files.folder).card(station.key, told.shown)
        actor = None if number is None else actor_of(studio.database, number)
        if number is None or actor is None:
            raise UsageError(NO_WORD)
        access = studio.access(actor)
        if told.pain:
            access.tell_pain(actor.id, exercise=station.exercise)
        else:
            access.deny_pain(actor.id)
        return _shown(studio, station, number, told.shown)

    return _json(await run_in_threadpool(keep))


async def result(request: Request, studio: Studio, station: Station) -> Response:
    """What came of a set that this station has just sent."""
    name = request.path_params["name"]

    def read() -> dict[str, Any]:
        filmed = Filmed(studio, station)
        return said(studio, filmed.clips.clip(name, filmed.owner))

    return _json(await run_in_threadpool(read))


def _shown(studio: Studio, station: Station, number: int, word: str) -> dict[str, Any]:
    """What the screen says of whose card it was shown."""
    why = why_not(studio.database, Found("", number, station.exercise, now()))
    if why == "pain":
        return {"read": True, "shown": "", "name": "", "stopped": True, "ask": False, "why": ""}
    actor = actor_of(studio.database, number)
    name = actor.name.split()[0] if actor is not None else ""
    ask = why == "not-asked"
    said = "" if ask else WHY_ONLY_COUNTED.get(why, "")
    return {"read": True, "shown": word, "name": name, "stopped": False, "ask": ask, "why": said}


async def _body(request: Request) -> bytes:
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > STILL_BYTES:
            raise UsageError("This is longer than any still of a station.")
    return body


def _json(said: Any) -> Response:
    return JSONResponse(said, headers=_HEADERS)


def _filmed(request: Request) -> Filmed | None:
    """Which station sends; UsageError where it has sent more than a phone may in a day."""
    station = _of(request) if same_origin(request.headers) else None
    if station is None:
        return None
    if request.method == "POST":
        sender = Actor(station.owner, "", "station")
        length, today = request.headers.get("upload-length"), now().date()
        if (refused := _uploads().refused(SENDING, length, sender, today)) is not None:
            raise UsageError(refused[1])
    return Filmed(this_studio(), station)


@lru_cache(maxsize=1)
def _uploads() -> Uploads:
    return Uploads()


def routes() -> list[Any]:
    """The addresses."""
    asked: list[tuple[str, Answer, str]] = [
        ("", show, "GET"), ("/framing", framing, "POST"), ("/card", card, "POST"), ("/pain", pain, "POST"),
        ("/set/{name}", result, "GET"),
    ]  # fmt: skip
    return [
        Route(STATION + "/enter/{secret}", enter, methods=["GET", "POST"]),
        *(Route(STATION + path, _answered(answer), methods=[method]) for path, answer, method in asked),
        *tus_routes(SENDING, _filmed),
    ]
