"""A set's day and load, put right by a trainer."""

from __future__ import annotations

import streamlit as st

from app.store.access import Access
from app.store.models import TrainingSet
from app.store.rules import LOAD_HIGH, UNITS
from app.views import parts
from shared.errors import PlumbsetError


def show(access: Access, row: TrainingSet) -> None:
    """Day, load and unit as they were told, to be changed."""
    with st.expander("Another day, or another load"), st.form(f"mend-{row.id}", border=False):
        day, load, unit = st.columns(3)
        done_on = day.date_input("Day", row.done_on, format="YYYY-MM-DD")
        value = load.number_input("Load", 0.0, LOAD_HIGH, row.load, format="%g", placeholder="As on the pin")
        units: list[str] = [*UNITS] if row.unit in UNITS else [row.unit, *UNITS]
        chosen = unit.selectbox("Unit", units, units.index(row.unit))
        keep = st.form_submit_button("Save day and load")
    if not keep:
        return
    try:
        access.mend_set(row.id, done_on, value, chosen)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()
