"""The doors beside the pages: signing in, personal links, signing out, and the clips themselves."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from secrets import token_hex
from typing import Any
from urllib.parse import parse_qsl, urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from app.page import oidc
from app.page.studio import COOKIE, DEVICE, acting, this_studio
from app.page.theme import FONT, TYPEFACE_AT
from app.page.typeface import face
from app.store import signin
from app.store.access import Access
from app.store.database import StoreTrouble
from shared.errors import InternalError, PlumbsetError

ENTER, LEAVE = "/enter", "/leave"
CLIP, MOVING, TOLD, MEMBER = "/kept/clip", "/kept/moving", "/kept/told", "/kept/member"
#: No form of the doors is as long as this, in bytes.
FORM_BYTES = 32_768
TOO_LONG = "This is longer than any form here."
OTHER_PAGE = "This form came from another page; open Plumbset itself."
#: What waits behind the door for the owner, and for any other trainer, who has no login.
NO_LOGIN = {
    True: "You have no login yet. Once you are signed out, only the link that stands in the window in which "
    "Plumbset was started lets you in; if none stands there, it has to be started anew to print one.",
    False: "You have no login yet. Once you are signed out, the owner has to let you in anew.",
}
_ASSETS = Path(__file__).parents[1] / "assets"
HEADERS = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; font-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
}


def show_door(request: Request) -> Response:
    """The form to sign in, or on the very first start to become the trainer."""
    return _door(request)


def _door(
    request: Request, said: str = "", status: int = 200, typed: Mapping[str, str] | None = None
) -> Response:
    """typed: what stood in the form that was not taken; passwords and codes are typed anew."""
    studio = this_studio()
    try:
        first = not signin.trainers(studio.database)
    except StoreTrouble as trouble:
        return PlainTextResponse(str(trouble), 503, headers=HEADERS)
    return show_page(
        "first" if first else "sign-in", status, said=said, door=studio.door, provider=studio.provider,
        signed_out=COOKIE in request.cookies,
        name=(typed or {}).get("name", ""), login=(typed or {}).get("login", ""),
    )  # fmt: skip


def show_page(kind: str, status: int = 200, **more: object) -> Response:
    """One of the doors' own pages. kind: first, sign-in, invited, link, station, leave or left."""
    page = Environment(
        loader=FileSystemLoader(_ASSETS), autoescape=True, undefined=StrictUndefined
    ).get_template("enter.html")
    look = {"face": Markup(face(TYPEFACE_AT)), "font": Markup(FONT)}
    return HTMLResponse(page.render(kind=kind, **look, **{"said": "", **more}), status, headers=HEADERS)


async def enter(request: Request) -> Response:
    """Take a filled-in form."""
    if not same_origin(request.headers):
        return PlainTextResponse(OTHER_PAGE, 403)
    form = await _form(request)
    if form is None:
        return PlainTextResponse(TOO_LONG, 413)
    return await run_in_threadpool(_let_in, request, form)


async def _form(request: Request) -> dict[str, str] | None:
    """A filled-in form; None as soon as it is longer than any of ours."""
    body = b""
    async for part in request.stream():
        body += part
        if len(body) > FORM_BYTES:
            return None
    return dict(parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True))


def _let_in(request: Request, form: Mapping[str, str]) -> Response:
    studio = this_studio()
    login, password = form.get("login", ""), form.get("password", "")
    try:
        if "code" in form:
            if studio.door == "sign-in" and not (login and password):
                return _door(request, "Choose a login and a password too.", 400, form)
            name = form.get("name", "")
            actor = signin.become_first_trainer(studio.database, form["code"], name, login, password)
            opened = None if studio.door == "open" else signin.session_for(studio.database, actor)
            return _onward(request, opened)
        known = request.cookies.get(DEVICE)
        return _onward(request, signin.sign_in(studio.database, login, password, known))
    except PlumbsetError as error:
        return _door(request, str(error), 400, form)


def link(request: Request) -> Response:
    """Come in by a link; its secret leaves the address at once. Some are asked first, see ``_asked``."""
    studio, secret = this_studio(), request.path_params["secret"]
    if request.method == "POST" and not same_origin(request.headers):
        return PlainTextResponse(OTHER_PAGE, 403)
    try:
        if request.method != "POST" and (asked := _asked(request, secret)) is not None:
            return asked
        return _onward(request, signin.open_link(studio.database, secret))
    except StoreTrouble as trouble:
        return PlainTextResponse(str(trouble), 503, headers=HEADERS)
    except PlumbsetError as error:
        return _door(request, str(error), 400)


def _asked(request: Request, secret: str) -> Response | None:
    """What is asked before a link is opened: by a new trainer's, and by a member's in a trainer's browser.

    A new trainer's works once, and messengers and mail look at each address that is sent: they press nothing.
    """
    studio, action = this_studio(), f"{ENTER}/{secret}"
    if (invited := signin.belongs_to(studio.database, secret, "invited")) is not None:
        return show_page("invited", name=invited.name, action=action)
    if (member := signin.belongs_to(studio.database, secret)) is None:
        return None
    actor = acting(studio, request.cookies, request.headers)
    if actor is None or not actor.is_trainer:
        return None
    return show_page("link", member=member.name, trainer=actor.name, action=action)


def leave(request: Request) -> Response:
    """End the session; an address alone, which any page can have a browser ask for, only shows the button."""
    if request.method == "POST" and not same_origin(request.headers):
        return PlainTextResponse(OTHER_PAGE, 403)
    secret = request.cookies.get(COOKIE)
    try:
        if request.method != "POST":
            actor = acting(this_studio(), request.cookies, request.headers)
            return show_page("leave", warning=no_way_back(this_studio().access(actor)) if actor else "")
        if secret:
            signin.sign_out(this_studio().database, secret)
    except StoreTrouble as trouble:
        return PlainTextResponse(str(trouble), 503, headers=HEADERS)
    vouched = oidc.VOUCHED in request.cookies and this_studio().provider
    # a form may lead to no other origin: the page goes on to the provider by itself
    answer = (
        show_page("left", onward=oidc.LOGOUT) if vouched else RedirectResponse(ENTER, 303, headers=HEADERS)
    )
    answer.delete_cookie(COOKIE)
    return answer


def no_way_back(access: Access) -> str:
    """What a trainer without a login should know before they sign out; empty for whoever comes in again."""
    me, studio = access.me(), this_studio()
    if not access.actor.is_trainer or me.login or studio.door == "open" or (me.email and studio.provider):
        return ""
    return NO_LOGIN[access.is_owner()]


def _onward(request: Request, session: str | None) -> Response:
    answer = RedirectResponse("/", 303, headers=HEADERS)
    if session is None:
        answer.delete_cookie(COOKIE)
        return answer
    device = signin.know_device(this_studio().database, session, request.cookies.get(DEVICE))
    kept = {COOKIE: (session, signin.SESSION_DAYS)}
    kept |= {DEVICE: (device, signin.DEVICE_DAYS)} if device else {}
    for name, (value, days) in kept.items():
        answer.set_cookie(
            name, value, max_age=days * 86_400, httponly=True, samesite="lax",
            secure=request.url.scheme == "https" or request.headers.get("x-forwarded-proto") == "https",
        )  # fmt: skip
    return answer


def clip(request: Request) -> Response:
    """The clip of a set, for whom the store gives it to; parts of it on demand."""
    return _file(request, lambda access, set_id: access.clip_file(set_id), "video/mp4")


def told_clip(request: Request) -> Response:
    """The clip beside a member's result; parts of it on demand."""
    return _file(request, lambda access, set_id: access.told_clip(set_id), "video/mp4")


def moving(request: Request) -> Response:
    """What is drawn over the clip of a set, for whom the store gives it to."""
    return _file(request, lambda access, set_id: access.moving_file(set_id), "application/json")


def member(request: Request) -> Response:
    """All that is kept of a member as one zip; it is made for this answer and gone after it."""

    def made(access: Access, person_id: int) -> Path:
        archive = this_studio().files.folder / f".part-{token_hex(8)}.zip"
        access.export_member(person_id, archive)
        return archive

    answer = _file(request, made, "application/zip")
    if isinstance(answer, FileResponse):
        answer.headers["Content-Disposition"] = (
            f'attachment; filename="member-{request.path_params["of"]}.zip"'
        )
        answer.background = BackgroundTask(Path(answer.path).unlink, missing_ok=True)
    return answer


def _file(request: Request, of: Callable[[Access, int], Path], kind: str) -> Response:
    studio = this_studio()
    try:
        actor = acting(studio, request.cookies, request.headers)
        if actor is None:
            return PlainTextResponse("Sign in first.", 401)
        path = of(studio.access(actor), request.path_params["of"])
    except PlumbsetError as error:
        return PlainTextResponse(str(error), 503 if isinstance(error, InternalError) else 404)
    headers = {"Cache-Control": "private, no-store", "X-Content-Type-Options": "nosniff"}
    return FileResponse(path, media_type=kind, headers=headers)


def same_origin(headers: Mapping[str, str]) -> bool:
    """Whether a request comes from a page of ours, or from no page at all."""
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc == headers.get("host")


def routes() -> list[Any]:
    """All doors."""
    return [
        Route(ENTER, show_door, methods=["GET"]),
        Route(ENTER, enter, methods=["POST"]),
        Route(ENTER + "/{secret}", link, methods=["GET", "POST"]),
        Route(LEAVE, leave, methods=["GET", "POST"]),
        Route(CLIP + "/{of:int}", clip, methods=["GET"]),
        Route(TOLD + "/{of:int}", told_clip, methods=["GET"]),
        Route(MOVING + "/{of:int}", moving, methods=["GET"]),
        Route(MEMBER + "/{of:int}", member, methods=["GET"]),
    ]
