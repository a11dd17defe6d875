"""The next step of who has sent nothing yet."""

from __future__ import annotations

import streamlit as st

from app.page import sample
from app.store.access import Access


def offer(access: Access) -> None:
    """Film, or look at a sample first."""
    if access.sets(access.actor.id, most=1):
        return
    pages = st.session_state["pages"]
    with st.container(horizontal=True, key="first"):
        st.page_link(pages["film"], label="**Film your first set**")
        if sample.there():
            st.page_link(pages["sample"], label="Try it with a sample set")
