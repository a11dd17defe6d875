"""The small components of our own: the clip with its strip, two repetitions side by side, marks."""

from __future__ import annotations

from typing import Any

import streamlit as st

from app.page.theme import ASSETS


def _asset(name: str) -> str:
    return (ASSETS / name).read_text(encoding="utf-8")


def _component(name: str) -> Any:
    return st.components.v2.component(
        f"plumbset_{name}", html=_asset(f"{name}.html"), css=_asset(f"{name}.css"), js=_asset(f"{name}.js")
    )


_CLIP, _LOOPS, _MARKS = (_component(name) for name in ("clip", "loops", "marks"))


def clip(data: dict[str, Any], key: str) -> float | None:
    """Show the clip; gives the moment (s) at which a trainer wants to add something, once."""
    result = _CLIP(data=data, key=key, on_moment_change=lambda: None)
    moment = getattr(result, "moment", None)
    return float(moment) if isinstance(moment, int | float) else None


def loops(mine: dict[str, Any], best: dict[str, Any] | None, key: str) -> None:
    """Play two repetitions side by side, over and over."""
    _LOOPS(data={"mine": mine, "best": best}, key=key)


def marks(data: dict[str, Any], key: str) -> list[dict[str, Any]]:
    """Let a trainer point at a machine's parts; gives {name, x, y, time_s} of each, once, to be used."""
    result = _MARKS(data=data, key=key, on_points_change=lambda: None)
    points = getattr(result, "points", None)
    return points if isinstance(points, list) else []
