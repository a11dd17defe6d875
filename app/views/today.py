"""A member's first screen: what to work on next, and the circuit of the day."""

from __future__ import annotations

import streamlit as st

from app.views import asking, day, first, pain, parts


def show() -> None:
    """Where pain stops the member that alone, else the day."""
    access = asking.access()
    me, today = access.me(), parts.today()
    stop = access.pain(me.id).stops
    parts.heading(f"Hello {me.name}", "" if stop else "One machine after the other, slowly.")
    if not pain.stops(access, me):
        pain.cleared_lately(access, me)
        pain.ask_for_the_day(access, me)
        first.offer(access)
        st.header("Work on this next", divider=False)
        day.show_next(access, me.id, today)
        st.header("Your circuit", divider=False)
        day.show_circuit(access, me.id, access.circuit(me.id, today), today)
        parts.cautions()
    parts.sign_out()
