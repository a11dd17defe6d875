"""The count of a set put right by one tap, where the tool counted wrong."""

from __future__ import annotations

import streamlit as st

from app.store.access import Access
from app.store.cases import MOST_REPS
from app.store.models import TrainingSet
from app.views import parts
from shared.errors import PlumbsetError
from vision.telling.words import counted


def show(access: Access, row: TrainingSet) -> None:
    """What was counted, the two nearest counts, and any other; nothing where the set was not counted."""
    if row.status != "checked" or row.count is None or row.reps is None:
        return
    by_hand = row.counted is not None
    by_tool = f"Counted {counted(row.count, 'rep')}"
    said = f"{by_tool}, it was {row.counted}." if by_hand else f"{by_tool}."
    near = [row.count - 1, row.count + 1] if not by_hand else [row.count]
    with st.container(horizontal=True, vertical_alignment="center", key=f"count-{row.id}"):
        st.markdown(said, width="content")
        for count in (n for n in near if n >= 0):
            name = f"Back to {count}" if by_hand else f"It was {count}"
            if st.button(name, key=f"count-{row.id}-{count}", width="content"):
                _keep(access, row, count)
        with st.popover("Another count", width="content"):
            other = st.number_input("Full reps, counted by hand", 0, MOST_REPS, row.reps, key=f"own-{row.id}")
            if st.button("Save the count", key=f"keep-count-{row.id}"):
                _keep(access, row, int(other))


def _keep(access: Access, row: TrainingSet, count: int) -> None:
    try:
        access.count_by_hand(row.id, count)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()
