"""A member's first screen: what to work on next, and the circuit of the day."""

from __future__ import annotations

import streamlit as st

from app.views import asking, day, parts


def show() -> None:
    """Stop first where pain was told, else the day."""
    access = asking.access()
    me, today = access.me(), parts.today_utc().date()
    circuit = access.circuit(me.id, today)
    under = "One machine after the other, slowly." if not circuit.stop else ""
    parts.heading(f"Hello {me.name}", under)
    if circuit.stop:
        parts.stop_notice()
    else:
        st.subheader("Work on this next", divider=False)
        day.show_next(access, me.id, today)
    st.subheader("Your circuit", divider=False)
    day.show_circuit(access, me.id, circuit, today)
    parts.cautions()
    parts.sign_out()
