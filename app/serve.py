"""The page's own process: the pages, and the doors in front of them."""

from __future__ import annotations

import argparse
import os
import sys
import threading
import traceback
from pathlib import Path

from app.page.theme import server_config

MAIN = Path(__file__).parent / "main.py"


def serve(host: str, port: int) -> None:
    """Serve until stopped."""
    import streamlit as st
    from starlette.middleware import Middleware

    from app.page import assets, entry, sending, station
    from app.page.deep_links import screen_routes
    from app.page.guard import Guard
    from app.page.oidc import provider_named, secrets_file
    from app.page.packed import Packed
    from app.page.station_sets import take_up
    from app.page.studio import not_beyond, this_studio
    from app.views import account, film, members, waiting  # noqa: F401 - now, not while someone waits

    not_beyond(this_studio().door, host)
    threading.Thread(target=take_up, args=(this_studio(),), daemon=True).start()
    data = this_studio().settings.data
    secrets = secrets_file(data) if provider_named(data) else None
    doors = [
        *entry.routes(), *station.routes(), *sending.routes(), *assets.routes(), *screen_routes(),
    ]  # fmt: skip
    app = st.App(MAIN, routes=doors, middleware=[Middleware(Guard), Middleware(Packed)], on_script_error=_say)
    app.run(config=server_config(host, port, secrets))


def _say(error: Exception) -> bool:
    """One sentence on the page for whatever a screen did not foresee; where it was goes to the terminal.

    Not what the error says: it may hold a name, a note or the path of a clip.
    """
    import streamlit as st

    from app.views import parts
    from shared.errors import PlumbsetError

    if isinstance(error, PlumbsetError):
        parts.said_wrong(error)
        return True
    st.error("Something went wrong on our side; whatever was kept before is safe. Load the page anew.")
    sys.stderr.write(f"{type(error).__name__}, at:\n{''.join(traceback.format_tb(error.__traceback__))}")
    return True


def _end_with_parent() -> None:
    """Stop when the process that started this one is gone: then its end of our input closes."""
    sys.stdin.buffer.read()
    os._exit(0)


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--host", required=True)
    parser.add_argument("--port", type=int, required=True)
    given = parser.parse_args()
    threading.Thread(target=_end_with_parent, daemon=True).start()
    serve(given.host, given.port)
