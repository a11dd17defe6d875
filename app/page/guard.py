"""Who gets past the doors: in front of every page, connection and file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import MutableHeaders
from starlette.requests import HTTPConnection
from starlette.responses import PlainTextResponse, RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.page import oidc
from app.page.entry import ENTER, FORM_BYTES, HEADERS, LEAVE, TOO_LONG
from app.page.station import STATION
from app.page.studio import acting, from_here, this_studio
from app.page.theme import OURS
from app.page.uploads import SEND, UPLOAD, Refusal, Uploads
from app.store.database import StoreTrouble
from app.store.rules import Actor

#: Files that a trainer's page offers; who knows such an address must not be able to fetch them as a member.
MEDIA = "/media/"
#: What may be fetched before anyone has signed in: the doors, and the page's own scripts.
#: A station asks for its own link at each address.
_OPEN = (ENTER, LEAVE, OURS, STATION, f"{STATION}/", "/static/", "/_stcore/health", "/favicon.png")
NOT_FROM_HERE = (
    "This page was started without sign-in, for this machine alone: it answers no other name than localhost "
    "and no request that came through a proxy. Start plumbset app without --no-sign-in for anything else."
)
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
        self.app, self.uploads = app, Uploads()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on, or turn away to the door."""
        send = _bounded(send)
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
            return
        asking = HTTPConnection(scope)
        if this_studio().door == "open" and not from_here(asking.headers):
            await _turn_away(scope, receive, send, 403, NOT_FROM_HERE)
        elif not _is_open(scope["path"]):
            await self._inside(scope, receive, send, asking)
        elif _length(asking.headers) > FORM_BYTES and not scope["path"].startswith(STATION):
            await _turn_away(scope, receive, send, 413, TOO_LONG)
        else:
            await self.app(scope, receive, send)

    async def _inside(self, scope: Scope, receive: Receive, send: Send, asking: HTTPConnection) -> None:
        """What is behind the doors."""
        try:
            actor = await run_in_threadpool(acting, this_studio(), asking.cookies, asking.headers)
        except StoreTrouble as trouble:
            await _turn_away(scope, receive, send, 503, str(trouble))
            return
        refused = None if actor is None else self._refused(scope, asking.headers, actor)
        if refused is not None:
            await _turn_away(scope, receive, send, *refused)
        elif actor is not None:
            await self.app(scope, receive, send)
        elif scope["type"] == "websocket":
            await _turn_away(scope, receive, send, 403, "")
        elif scope["path"].startswith(SEND):
            await _turn_away(scope, receive, send, 401, "Sign in first; then the clip is sent by itself.")
        else:
            await RedirectResponse(_door_for(asking), 303)(scope, receive, send)

    def _refused(self, scope: Scope, headers: Mapping[str, str], actor: Actor) -> Refusal | None:
        """What someone who is signed in may not have all the same."""
        if not actor.is_trainer and scope["path"].startswith(MEDIA):
            return 404, "There is nothing here for you."
        path, method = scope["path"], scope.get("method")
        if path.startswith(UPLOAD) and method in ("PUT", "POST"):
            length = headers.get("content-length")
        elif path == SEND and method == "POST":
            length = headers.get("upload-length")
        else:
            return None
        return self.uploads.refused(path, length, actor, datetime.now(UTC).date())


def _bounded(send: Send) -> Send:
    """The same way back, every answer with the headers of ``_PAGES`` that it does not set itself."""

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _PAGES.items():
                headers.setdefault(name, value)
        await send(message)

    return sending


async def _turn_away(scope: Scope, receive: Receive, send: Send, status: int, said: str) -> None:
    """Say why not; an open page tries its connection again by itself where the store cannot be asked."""
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": 1013 if status == 503 else 1008})
    else:
        await PlainTextResponse(said, status, headers=HEADERS)(scope, receive, send)


def _length(headers: Mapping[str, str]) -> int:
    """What a request says of its length, 0 where it says nothing that can be read."""
    said = headers.get("content-length", "")
    return int(said[:20]) if said.isascii() and said.isdigit() else 0


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
