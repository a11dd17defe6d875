"""A member put away, brought back, and taken along as one zip."""

from __future__ import annotations

import streamlit as st

from app.page.entry import MEMBER
from app.rules.words import day_words
from app.store.access import Access
from app.store.base import day_of
from app.store.models import Person
from app.views import parts
from shared.errors import PlumbsetError


def offer(access: Access, person: Person) -> None:
    """The zip, and the way into the archive."""
    st.header("Take along or put away", divider=False)
    _zip(person)
    if st.button("Archive this member"):
        access.archive_member(person.id)
        st.query_params.clear()
        st.rerun()
    st.caption(
        "Everything is kept and comes back at a touch. Until then no list shows them, and neither card nor "
        "link works."
    )


def show(access: Access, person: Person) -> None:
    """What is left to do with a member who is archived."""
    since = day_words(day_of(person.archived_at), parts.today()) if person.archived_at else ""
    parts.heading(person.name, f"Archived {since}")
    st.page_link(st.session_state["pages"]["members"], label="All members", icon=":material/arrow_back:")
    st.info(
        "Sets, settings card and words are kept, and no list shows them. The phone card and the link work no "
        "more: make new ones after bringing them back."
    )
    if st.button("Bring back", type="primary"):
        access.bring_back(person.id)
        st.rerun()
    _zip(person)
    if access.is_owner():
        _delete(access, person)


def _delete(access: Access, person: Person) -> None:
    """The way that has no way back: the name is typed first."""
    with st.expander("Delete for good"):
        st.caption(
            "Sets, clips, pictures, numbers, card and words go and cannot be brought back. Backups made "
            "before still hold them until they are made anew."
        )
        name = st.text_input("Type the name to go on", key=f"name-{person.id}", max_chars=80)
        if st.button("Delete for good", key=f"delete-{person.id}", disabled=not name.strip()):
            try:
                access.delete_member(person.id, name)
            except PlumbsetError as error:
                parts.said_wrong(error)
                return
            st.query_params.clear()
            st.rerun()


def show_list(access: Access) -> None:
    """The archived members, where there are any."""
    gone = access.archived()
    if not gone:
        return
    with st.expander(f"Archived: {len(gone)}"):
        for person in gone:
            page = st.session_state["pages"]["members"]
            st.page_link(page, label=parts.plain(person.name), query_params={"person": str(person.id)})


def _zip(person: Person) -> None:
    parts.html(
        f'<p><a href="{MEMBER}/{person.id}" download>Export as zip</a></p>'
        '<p class="pl-quiet">All that is kept of them, heads hidden; clips as sent are left out.</p>'
    )
