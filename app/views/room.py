"""The studio's settings on one screen: the owner changes them, every trainer reads them."""

from __future__ import annotations

import streamlit as st

from app.rules.room import LENGTHS, WEIGHTS
from app.rules.words import title_of
from app.store.access import Access
from app.store.room import LONGEST, SHORTEST
from app.views import asking, parts, proof, stacks
from shared.errors import PlumbsetError
from shared.exercise import exercise_names
from vision.telling.words import counted

LENGTH_WORDS = {"cm": "Centimetres", "ft": "Feet and inches"}
WEIGHT_WORDS = {"kg": "Kilograms", "lb": "Pounds"}


def show(access: Access) -> None:
    """What members read, the room, the load, the tempo, and how long clips are kept."""
    may = access.is_owner()
    if not may:
        st.caption("Only the owner, the trainer who has been here longest, can change these settings.")
    st.header("What members read", divider=False)
    _hold_back(access)
    st.header("Machines and units", divider=False)
    _room(access, may)
    st.header("More load", divider=False)
    stacks.show(access, may)
    st.header("Tempo", divider=False)
    stacks.tempo(access)
    st.header("How sure the tool is", divider=False)
    proof.settings(access, may)
    st.header("How long clips are kept", divider=False)
    _clips(access, may)


def _hold_back(access: Access) -> None:
    """Whether members wait for the trainer's look."""
    words = {
        True: "Only what a trainer has handed over",
        False: "What the tool says at once, marked as not yet looked at",
    }
    kept = access.holds_back()
    chosen = st.radio("Of a set, members see", list(words), list(words).index(kept), format_func=words.get)
    st.caption("How to film again, and the stop notice after pain, they always see at once.")
    if chosen != kept:
        access.hold_back(chosen)
        st.toast("Saved.")


def _room(access: Access, may: bool) -> None:
    """Which machines stand here in the order of the usual circuit, and the units that people read."""
    room = access.room()
    with st.form("room"):
        machines = st.multiselect(
            "Machines in this room, in the order of the circuit", exercise_names(), room.machines,
            format_func=title_of, disabled=not may,
            help="Take machines out and put them in again in the order you want.",
        )  # fmt: skip
        left, right = st.columns(2)
        weight = left.radio(
            "Loads in", WEIGHTS, WEIGHTS.index(room.weight), format_func=WEIGHT_WORDS.get, disabled=not may
        )
        length = right.radio(
            "Heights in", LENGTHS, LENGTHS.index(room.length), format_func=LENGTH_WORDS.get, disabled=not may
        )
        st.caption("Loads already noted are shown in this unit; a pin number stays as it is.")
        keep = st.form_submit_button("Save machines and units", type="primary", disabled=not may)
    if keep:
        try:
            access.save_room(machines, weight, length)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.toast("Saved.")


def _clips(access: Access, may: bool) -> None:
    """The days that clips are kept; fewer days take clips away, so that is asked first."""
    st.caption(asking.kept_words())
    kept = asking.days_kept()
    with st.form("keep-clips"):
        days = int(st.number_input("Keep clips for days", SHORTEST, LONGEST, kept, step=1, disabled=not may))
        keep = st.form_submit_button("Save these days", type="primary", disabled=not may)
    if keep:
        st.session_state["fewer-days"] = days
    if st.session_state.get("fewer-days") != days:
        return
    going = access.clips_older(days) if days < kept else 0
    if going:
        st.warning(f"{counted(going, 'clip')} older than {counted(days, 'day')} go for good within the hour.")
    if not going or st.button(f"Drop {counted(going, 'clip')}, keep {counted(days, 'day')}"):
        st.session_state.pop("fewer-days", None)
        try:
            access.keep_clips(days)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.rerun()
