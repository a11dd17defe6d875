"""Whether a set was done on another machine or the other side: asked first, then checked again."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.rules.other_machine import Doubt
from app.rules.words import side_words, title_of
from app.store.access import Access
from app.store.models import TrainingSet
from app.views import parts
from shared.errors import PlumbsetError
from shared.exercise import exercise_names

WITHDRAWN = "What you decided of the prompts so far is taken back; your note and your own added words stay."
NOT_APPROVED = (
    "This is an approved set: checked as something else, it is that no more. You may approve it anew."
)
SIDES = {None: "Both sides or not said", "left": "Left", "right": "Right"}


def ask(access: Access, row: TrainingSet, member: str, doubt: Doubt) -> None:
    """The notice, first and large, with one button a machine; the cards wait for the answer."""
    parts.html(
        f'<div class="pl-ask" role="alert"><b>{escape(doubt.words)}</b>'
        f"<p>Choose the machine first. {escape(member)} sees this notice too.</p></div>"
    )
    with st.container(horizontal=True, key="other-machine"):
        for name in doubt.names:
            if st.button(f"Check again as {title_of(name).lower()}", type="primary", key=f"as-{name}"):
                _again(access, row, name, row.side)
        if st.button(f"No, it is {title_of(row.exercise).lower()}", key="as-named"):
            access.keep_machine(row.id)
            st.rerun()


def other(access: Access, row: TrainingSet, view: str | None = None) -> None:
    """Every other machine and the other side, for whoever knows better. view: filmed from where."""
    if row.clip is None or row.clip_dropped_at is not None:
        return
    with st.expander("Another machine, or the other side"):
        if (seen := side_words(view)) and row.side is None:
            st.caption(f"{seen} That was found from the clip.")
        names = exercise_names()
        at = names.index(row.exercise) if row.exercise in names else 0
        name = st.selectbox("Machine", names, at, format_func=title_of, key=f"other-{row.id}")
        side = st.radio(
            "Working side", list(SIDES), list(SIDES).index(row.side), horizontal=True,
            format_func=lambda one: SIDES[one], key=f"side-{row.id}",
        )  # fmt: skip
        same = (name, side) == (row.exercise, row.side)
        if st.button("Check the clip again as that", disabled=same, key=f"again-{row.id}"):
            _again(access, row, name, side)
        st.caption(WITHDRAWN)
        if access.reference(row.person_id, row.exercise) == row.id:
            st.caption(NOT_APPROVED)


def _again(access: Access, row: TrainingSet, exercise: str, side: str | None) -> None:
    try:
        access.check_as(row.id, exercise, side)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()
