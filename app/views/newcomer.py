"""Whether a member is still new to the machines: asked of a trainer, never answered by itself."""

from __future__ import annotations

import streamlit as st

from app.store.access import Access
from app.store.models import Person
from app.views import asking, parts
from vision.telling.words import counted

STRICTER = "Who is new gets the stricter limits; they stay until you answer."


def ask(access: Access, person: Person) -> None:
    """Ask where it is time."""
    sets = access.newcomer_due(person.id, asking.new_for_sets())
    if not sets:
        return
    with st.container(border=True, key=f"card-newcomer-{person.id}"):
        asked = f"**Is {parts.plain(person.name)} still new to the room?**"
        st.markdown(f"{asked} {counted(sets, 'set')} so far. {STRICTER}")
        with st.container(horizontal=True):
            still = st.button("Still new", key=f"still-{person.id}")
            settled = st.button("Not new any more", key=f"settled-{person.id}")
    if still or settled:
        access.answer_newcomer(person.id, still)
        st.rerun()
