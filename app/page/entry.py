"""The doors beside the pages: signing in, personal links, signing out, and the clips themselves."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection, Request
from starlette.responses import FileResponse, HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.page import oidc
from app.page.studio import COOKIE, acting, from_here, this_studio
from app.store import signin
from app.store.database import StoreTrouble
from shared.errors import InternalError, PlumbsetError

ENTER, LEAVE, CLIP = "/enter", "/leave", "/kept/clip"
#: Files that a trainer's page offers; who knows such an address must not be able to fetch them as a member.
MEDIA = "/media/"
#: What may be fetched before anyone has signed in: the doors, and the page's own scripts.
_OPEN = (ENTER, LEAVE, "/static/", "/_stcore/health", "/favicon.png")
_ASSETS = Path(__file__).parents[1] / "assets"
_HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; "
    "base-uri 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
}
#: Of the pages: nothing from elsewhere, and in no other page's frame. They bring scripts and styles in their
#: own text, and our components as blobs, so that these stay allowed.
_PAGES = {
    "Content-Security-Policy": "default-src 'self'; script-src 'self' 'unsafe-inline' blob:; "
    "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
    "media-src 'self' blob:; worker-src 'self' blob:; object-src 'none'; base-uri 'self'; "
    "form-action 'self'; frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
}


class Guard:
    """Lets nobody without a session reach a page, its connection or a file; bounds what pages ask for."""

    def __init__(self, app: ASGIApp):
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, or turn away to the door."""
        send = _bounded(send)
        if scope["type"] not in ("http", "websocket") or _is_open(scope["path"]):
            await self.app(scope, receive, send)
            return
        asking = HTTPConnection(scope)
        try:
            actor = await run_in_threadpool(acting, this_studio(), asking.cookies, asking.headers)
        except StoreTrouble as trouble:
            await _away(scope, receive, send, str(trouble))
            return
        if actor is not None and not actor.is_trainer and scope["path"].startswith(MEDIA):
            await PlainTextResponse("There is nothing here for you.", 404)(scope, receive, send)
        elif actor is not None:
            await self.app(scope, receive, send)
        elif scope["type"] == "websocket":
            await receive()
            await send({"type": "websocket.close", "code": 1008})
        else:
            await RedirectResponse(_door_for(asking), 303)(scope, receive, send)


def _bounded(send: Send) -> Send:
    """The same way back, every answer with the headers of ``_PAGES`` that it does not set itself."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _PAGES.items():
                headers.setdefault(name, value)
        await send(message)

    return sending


async def _away(scope: Scope, receive: Receive, send: Send, said: str) -> None:
    """Say that the store cannot be asked; an open page tries its connection again by itself."""
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1013})
    else:
        await PlainTextResponse(said, 503, headers=_HEADERS)(scope, receive, send)


def _door_for(asking: HTTPConnection) -> str:
    """Where someone without a session comes in: for whom the provider has vouched, straight on."""
    return oidc.PAGE if oidc.VOUCHED in asking.cookies and this_studio().provider else ENTER


def _is_open(path: str) -> bool:
    if ".." in path.split("/"):
        return False
    if (path.startswith(ENTER + "/") and path.count("/") == 2) or _among(path, _OPEN):
        return True
    return _among(path, oidc.OPEN) and this_studio().provider


def _among(path: str, doors: tuple[str, ...]) -> bool:
    return any(path == door or (door.endswith("/") and path.startswith(door)) for door in doors)


def show_door(request: Request) -> Response:
    """The form to sign in, or on the very first start to become the trainer."""
    return _door(request)


def _door(request: Request, said: str = "", status: int = 200) -> Response:
    studio = this_studio()
    try:
        first = not signin.trainers(studio.database)
    except StoreTrouble as trouble:
        return PlainTextResponse(str(trouble), 503, headers=_HEADERS)
    here = studio.open_here and from_here(request.headers)
    page = Environment(
        loader=FileSystemLoader(_ASSETS), autoescape=True, undefined=StrictUndefined
    ).get_template("enter.html")
    html = page.render(
        said=said, first=first, here=here, signed_out=COOKIE in request.cookies, provider=studio.provider
    )
    return HTMLResponse(html, status, headers=_HEADERS)


async def enter(request: Request) -> Response:
    """Take a filled-in form."""
    if not _same_origin(request.headers):
        return PlainTextResponse("This form came from another page; open Plumbset itself.", 403)
    form = {key: str(value) for key, value in (await request.form()).items()}
    return await run_in_threadpool(_let_in, request, form)


def _let_in(request: Request, form: Mapping[str, str]) -> Response:
    database = this_studio().database
    login, password = form.get("login", ""), form.get("password", "")
    try:
        if "code" in form:
            here = this_studio().open_here and from_here(request.headers)
            if not here and not (login and password):
                return _door(request, "Choose a login and a password too.", 400)
            signin.become_first_trainer(database, form["code"], form.get("name", ""), login, password)
            if here and not login:
                return _onward(request, None)
        return _onward(request, signin.sign_in(database, login, password))
    except PlumbsetError as error:
        return _door(request, str(error), 400)


def personal_link(request: Request) -> Response:
    """Come in by a personal link; its secret leaves the address at once."""
    try:
        return _onward(request, signin.open_link(this_studio().database, request.path_params["secret"]))
    except PlumbsetError as error:
        return _door(request, str(error), 400)


def leave(request: Request) -> Response:
    """End the session."""
    secret = request.cookies.get(COOKIE)
    try:
        if secret:
            signin.sign_out(this_studio().database, secret)
    except StoreTrouble as trouble:
        return PlainTextResponse(str(trouble), 503, headers=_HEADERS)
    vouched = oidc.VOUCHED in request.cookies and this_studio().provider
    answer = RedirectResponse(oidc.LOGOUT if vouched else ENTER, 303, headers=_HEADERS)
    answer.delete_cookie(COOKIE)
    return answer


def _onward(request: Request, session: str | None) -> Response:
    answer = RedirectResponse("/", 303, headers=_HEADERS)
    if session is not None:
        answer.set_cookie(
            COOKIE, session, max_age=signin.SESSION_DAYS * 86_400, httponly=True, samesite="lax",
            secure=request.url.scheme == "https" or request.headers.get("x-forwarded-proto") == "https",
        )  # fmt: skip
    else:
        answer.delete_cookie(COOKIE)
    return answer


def clip(request: Request) -> Response:
    """The drawn clip of a set, for whom the store gives it to; parts of it on demand."""
    studio = this_studio()
    try:
        actor = acting(studio, request.cookies, request.headers)
        if actor is None:
            return PlainTextResponse("Sign in first.", 401)
        path = studio.access(actor).clip_file(request.path_params["set_id"])
    except PlumbsetError as error:
        return PlainTextResponse(str(error), 503 if isinstance(error, InternalError) else 404)
    headers = {"Cache-Control": "private, no-store", "X-Content-Type-Options": "nosniff"}
    return FileResponse(path, media_type="video/mp4", headers=headers)


def _same_origin(headers: Mapping[str, str]) -> bool:
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc == headers.get("host")


def routes() -> list[Any]:
    """All doors."""
    return [
        Route(ENTER, show_door, methods=["GET"]),
        Route(ENTER, enter, methods=["POST"]),
        Route(ENTER + "/{secret}", personal_link, methods=["GET"]),
        Route(LEAVE, leave, methods=["GET"]),
        Route(CLIP + "/{set_id:int}", clip, methods=["GET"]),
    ]
