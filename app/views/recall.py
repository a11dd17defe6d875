"""Handing a set over, going on with the next one, and taking that back within a minute."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st
from markupsafe import escape

from app.rules.words import day_words, title_of
from app.store.access import Access
from app.store.handing import RECALL_S
from app.store.models import TrainingSet
from app.views import parts
from shared.errors import PlumbsetError


def go_on(access: Access, row: TrainingSet, member: str) -> None:
    """Open the next set that waits, else the list; this one was handed over."""
    what = "Asked {} for another video" if row.status == "failed" else "Handed over to {}"
    day, sent = day_words(row.done_on, parts.today()), parts.moment(row.uploaded_at)
    words = f"{what.format(member)}: {title_of(row.exercise)}, done {day}, sent {sent}."
    st.session_state["handed"] = (row.id, words, parts.today_utc())
    try:
        lines = [one for one in access.waiting() if one.status != "checking" and one.set_id != row.id]
    except PlumbsetError:  # the list says it
        lines = []
    if not lines:
        st.switch_page(st.session_state["pages"]["waiting"])
    st.query_params["set"] = str(lines[0].set_id)
    st.rerun()


def offer(access: Access) -> None:
    """For a minute: take back what was handed over last."""
    handed = st.session_state.get("handed")
    if handed is None or parts.today_utc() - handed[2] > timedelta(seconds=RECALL_S):
        return
    set_id, words, _ = handed
    with st.container(horizontal=True, key="handed", vertical_alignment="center"):
        parts.html(f"<p>{escape(words)}</p>")
        back = st.button("Take it back", help="Within a minute")
    if not back:
        return
    del st.session_state["handed"]
    try:
        access.recall(set_id)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.switch_page(st.session_state["pages"]["review"], query_params={"set": str(set_id)})
