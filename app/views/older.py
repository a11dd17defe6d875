"""A member's sets, newest first; those before them as they are asked for."""

from __future__ import annotations

import streamlit as st

from app.store.access import Access
from app.store.models import TrainingSet

#: So many sets are shown at first, and so many more with each tap.
STEP = 50


def sets_shown(access: Access, person_id: int) -> tuple[list[TrainingSet], bool]:
    """The newest sets, as many as were asked for, and whether there are older ones."""
    most = st.session_state.get(_key(person_id), STEP)
    rows = access.sets(person_id, most=most + 1)
    return rows[:most], len(rows) > most


def offer(person_id: int) -> None:
    """The way to older sets, below those that are shown."""
    if st.button("Show older", key=f"older-{person_id}", width="stretch"):
        st.session_state[_key(person_id)] = st.session_state.get(_key(person_id), STEP) + STEP
        st.rerun()


def _key(person_id: int) -> str:
    return f"sets-shown-{person_id}"
