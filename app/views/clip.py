"""The components of our own: the desk of a review, two repetitions side by side, marks on a machine."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.page.theme import ASSETS


def _asset(name: str) -> str:
    return (ASSETS / name).read_text(encoding="utf-8")


def component(name: str, *scripts: str) -> Any:
    """A component from its own assets; the scripts that others share come first."""
    js = "\n".join(_asset(f"{script}.js") for script in (*scripts, name))
    return st.components.v2.component(
        f"plumbset_{name}", html=_asset(f"{name}.html"), css=_asset(f"{name}.css"), js=js
    )


_DESK = component("desk", "moving", "pair", "player", "talk")
_LOOPS = component("loops", "moving", "pair")
_MARKS = component("marks")


def desk(data: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """Show the desk; gives what was done there and is not yet known to be kept, in its order.

    It is remembered as soon as it is heard: a page that cannot be shown takes the desk away.
    """
    heard = f"{key}-heard"

    def hear() -> None:
        st.session_state[heard] = st.session_state[key].get("log")

    result = _DESK(data=data, key=key, on_log_change=hear)
    log = getattr(result, "log", None) or st.session_state.get(heard)
    return list(log) if isinstance(log, list) else []


def loops(mine: dict[str, Any], best: dict[str, Any] | None, key: str) -> None:
    """Play two repetitions side by side, over and over."""
    _LOOPS(data={"mine": mine, "best": best}, key=key)


def marks(data: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """Let a trainer point at a machine's parts; gives {name, x, y, time_s} of each, once, to be used."""
    result = _MARKS(data=data, key=key, on_points_change=lambda: None)
    points = getattr(result, "points", None)
    return points if isinstance(points, list) else []
