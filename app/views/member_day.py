"""A trainer's look at a member's day: the circuit, its order, what to work on next, and own limits."""

from __future__ import annotations

import streamlit as st

from app.rules.words import title_of
from app.store.access import Access
from app.store.models import Person
from app.views import day, parts
from shared.errors import PlumbsetError


def show(access: Access, person: Person) -> None:
    """What to work on next beside the circuit, and which machines it has."""
    today = parts.today()
    circuit = access.circuit(person.id, today)
    left, right = st.columns([1, 1.1], gap="medium")
    with left:
        st.header("Work on this next", divider=False)
        if circuit.stop:
            st.caption("Nothing while pain stops the member.")
        else:
            day.show_next(access, person.id, today)
    with right:
        st.header("Circuit of the day", divider=False)
        day.show_circuit(access, person.id, circuit, today)
        with st.expander("Machines and their order"):
            _order(access, person, [station.exercise for station in circuit.stations])


def _order(access: Access, person: Person, now: list[str]) -> None:
    chosen = st.multiselect(
        "In this order", access.room().machines, now, format_func=title_of, key=f"circuit-{person.id}",
        help="Take machines out and put them in again in the order you want.",
    )  # fmt: skip
    with st.container(horizontal=True):
        keep = st.button("Save this circuit", type="primary", disabled=not chosen or chosen == now)
        usual = person.circuit is not None and st.button("Back to the usual one")
    if not keep and not usual:
        return
    try:
        access.save_circuit(person.id, None if usual else chosen)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.session_state.pop(f"circuit-{person.id}", None)
    st.rerun()
