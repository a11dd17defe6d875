"""Members' cards for the phone at a machine: printed for all or for one, and what was only counted."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st
from markupsafe import escape

from app.page.member_cards import cards_pdf
from app.rules.words import day_words, title_of
from app.store.access import Access
from app.store.found_sets import WHY, Counted
from app.store.models import Person
from app.views import parts
from shared.errors import PlumbsetError
from vision.telling.words import counted

#: Days for which is listed what was only counted.
LISTED = 7
WHAT = (
    "Held to the phone before a set, a card says whose the set is. Without one, or where a member has not "
    "agreed to be filmed or has not said that day that nothing hurts, the set is only counted: no clip, no "
    "name."
)


def show(access: Access) -> None:
    """Cards for everybody, and how many sets nobody gets."""
    st.caption(WHAT)
    members = access.members()
    if members:
        st.download_button(
            f"Cards of {counted(len(members), 'member')} as PDF", lambda: cards_pdf(access.give_cards()),
            "cards.pdf", "application/pdf", on_click="ignore", type="primary",
        )  # fmt: skip
        st.caption("Print at 100 %. Whoever has no number yet gets one; those who have keep theirs.")
    st.header("Only counted", divider=False)
    lines = access.only_counted(parts.today() - timedelta(days=LISTED))
    if lines:
        parts.html(f"<ul>{''.join(map(_line, lines))}</ul>")
    else:
        st.caption(f"None in the last {LISTED} days.")


def _line(one: Counted) -> str:
    day = day_words(one.day, parts.today())
    machine = title_of(one.exercise) if one.exercise else "Machine unknown"
    said = f"{machine}, {day}: {counted(one.sets, 'set')}. {WHY[one.why]}"
    return f"<li>{escape(said)}</li>"


def of_member(access: Access, person: Person) -> None:
    """One member's card, and its end."""
    st.header("Card for the phone at a machine", divider=False)
    number = access.card_number(person.id)
    st.caption(f"Card {number}." if number else "No card yet; the first print gives the number.")
    with st.container(horizontal=True):
        st.download_button(
            "Card as PDF", lambda: cards_pdf(access.give_cards([person.id])), f"card-{person.id}.pdf",
            "application/pdf", on_click="rerun",
        )  # fmt: skip
        lost = number is not None and st.button("Card lost: end it")
    if lost:
        try:
            access.end_card(person.id)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.rerun()
