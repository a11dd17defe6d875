"""Stations: links for phones on a stand, one at each machine, made and ended here."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.page.qr import qr_svg
from app.page.station import STATION
from app.rules.words import day_words, title_of
from app.store.access import Access
from app.store.base import day_of
from app.store.stations import Station
from app.views import parts
from shared.errors import PlumbsetError

WHAT = (
    "A phone on a stand at one machine films each set by itself and shows the count. With a member's card "
    "the set waits here like any other; without one nothing is kept but a count. Say on the machine that a "
    "camera runs, and set phone and stand out of walkways."
)
ONCE = (
    "Shown only now: open it on the phone that stands there, by an https address. Whoever has the link can "
    "make another phone this station; it opens nothing else, and works until you end it."
)


def show(access: Access) -> None:
    """A new station, and those that stand."""
    st.caption(WHAT)
    with st.form("station"):
        machines = access.room().machines
        exercise = st.selectbox("Machine", machines, format_func=title_of)
        make = st.form_submit_button("Make a station link", type="primary")
    if make:
        secret = access.make_station(exercise)
        address = (st.context.url or "").split("/studio")[0].rstrip("/")
        st.session_state["station-made"] = (title_of(exercise), f"{address}{STATION}/enter/{secret}")
        st.rerun()
    if made := st.session_state.get("station-made"):
        parts.html(parts.drawing(qr_svg(made[1]), f"QR code of the station link for {made[0]}", "qr"))
        st.code(made[1], language=None, wrap_lines=True)
        st.caption(f"{made[0]}. {ONCE}")
    for number, station in enumerate(access.stations()):
        with st.container(border=True, key=f"station-{number}"):
            _one(access, station, number)


def _one(access: Access, station: Station, number: int) -> None:
    words, button = st.columns([4, 1], vertical_alignment="center")
    since = f"Since {day_words(day_of(station.made_at), parts.today())}, by {station.by}"
    row = f'<span class="who">{title_of(station.exercise)}</span><span class="what">{escape(since)}</span>'
    parts.html(f'<div class="pl-row plain">{row}</div>', words)
    if button.button("End it", key=f"end-station-{number}", help="Its phone films and shows nothing more."):
        try:
            access.end_station(station.key)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.session_state.pop("station-made", None)
        st.rerun()
