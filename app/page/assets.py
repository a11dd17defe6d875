"""Files that the page's own scripts fetch by name: before anyone has signed in, as they tell nothing."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import Route

from app.page.demo_history import CLIPS
from app.page.theme import ASSETS, OURS, TYPEFACE_FILE

#: The sample clip of a first visit, beside the installation where the project lies whole.
SAMPLE = "sample.mp4"
SAMPLE_CLIP = min(CLIPS.glob("*-extension-faulty.mp4"), default=CLIPS / SAMPLE)
_SCRIPT = "text/javascript"
#: What is given out, and as what.
FILES = {
    "camera.js": _SCRIPT,
    "posting.js": _SCRIPT,
    "tus-js-client-4.3.1.min.js": _SCRIPT,
    "worker.js": _SCRIPT,
    "station.js": _SCRIPT,
    "station-card.js": _SCRIPT,
    "station-motion.js": _SCRIPT,
    "station-roll.js": _SCRIPT,
    "station.css": "text/css",
    "plumbset.webmanifest": "application/manifest+json",
    "icon-192.png": "image/png",
    "icon-512.png": "image/png",
    SAMPLE: "video/mp4",
    TYPEFACE_FILE: "font/woff2",
}
_ASK_AGAIN = {"Cache-Control": "no-cache"}
#: A typeface's name has its version.
_FOR_GOOD = {"Cache-Control": "public, max-age=31536000, immutable"}


def ours(request: Request) -> Response:
    """One of the files; the browser asks each time whether it changed, but for the typeface."""
    name = request.path_params["name"]
    if name not in FILES:
        return PlainTextResponse("There is no such file.", 404)
    file = SAMPLE_CLIP if name == SAMPLE else ASSETS / name
    if not file.is_file():
        return PlainTextResponse("There is no such file.", 404)
    kept = _FOR_GOOD if name == TYPEFACE_FILE else _ASK_AGAIN
    answer = FileResponse(file, media_type=FILES[name], headers=kept, stat_result=file.stat())
    if request.headers.get("if-none-match") == answer.headers["etag"]:
        return Response(status_code=304, headers={**kept, "ETag": answer.headers["etag"]})
    return answer


def routes() -> list[Any]:
    """The one address."""
    return [Route(OURS + "{name}", ours, methods=["GET"])]
