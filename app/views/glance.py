"""One repetition each of several sets in which nothing was flagged; then they are handed over together."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st
from markupsafe import escape

from app.page.timeline import loop
from app.rules.words import title_of
from app.store.access import Access
from app.views import clip, parts
from app.views.desk import BEFORE
from shared.errors import PlumbsetError
from vision.telling.cues import best_rep
from vision.telling.words import counted

#: The sets still to be looked at, and those that looked right.
STARTED, RIGHT = "glance", "glance-right"


def start(set_ids: Sequence[int]) -> None:
    """Begin with the first of these sets."""
    st.session_state[STARTED], st.session_state[RIGHT] = list(set_ids), []
    st.rerun()


def show(access: Access) -> None:
    """The next set's repetition, and at the end handing over."""
    left: list[int] = st.session_state[STARTED]
    parts.heading("One repetition each", "Sets in which nothing was flagged. Hand over what looks right.")
    parts.html(f'<p class="pl-note" role="note">{escape(BEFORE)}</p>')
    try:
        _one(access, left[0], len(left)) if left else _over(access)
    except PlumbsetError as error:
        parts.said_wrong(error)
    if st.button("Leave it, hand nothing over" if left else "Hand nothing over", type="tertiary"):
        _end()


def _one(access: Access, set_id: int, left: int) -> None:
    row = access.set(set_id)
    member, report = access.person(row.person_id), access.report(set_id)
    parts.html(f"<p><b>{escape(member.name)}</b>, {escape(title_of(row.exercise).lower())}</p>")
    rep = best_rep(report) if report is not None else None
    rep = rep or (report.reps[0] if report is not None and report.reps else None)
    if rep is not None:
        mine = loop(rep, set_id, f"Repetition {rep.number}", drawn=access.has_moving(set_id))
        clip.loops(mine, None, key=f"glance-{set_id}")
    st.caption(f"{counted(left, 'set')} to look at." if left > 1 else "The last one.")
    with st.container(horizontal=True):
        right = st.button("Looks right", type="primary", shortcut="y", key=f"right-{set_id}")
        later = st.button("Not this one", shortcut="x", key=f"later-{set_id}")
    if right:
        st.session_state[RIGHT].append(set_id)
    if right or later:
        st.session_state[STARTED].pop(0)
        st.rerun()


def _over(access: Access) -> None:
    right: list[int] = st.session_state[RIGHT]
    if not right:
        parts.html("<p>None of them is handed over; each waits in the list.</p>")
        return
    if st.button(f"Hand over {counted(len(right), 'set')}", type="primary", shortcut="h"):
        access.release_clear(right)
        st.toast(f"Handed over: {counted(len(right), 'set')}.")
        _end()


def _end() -> None:
    del st.session_state[STARTED], st.session_state[RIGHT]
    st.rerun()
