"""The trainer's week: who was not looked at, whose form slips, who is due for a question about the load."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st
from markupsafe import escape

from app.page.load_words import with_days
from app.rules.week import WeekLine
from app.rules.words import title_of
from app.views import asking, load, parts
from shared.errors import PlumbsetError


def show() -> None:
    """The three lists, each line with a way on."""
    access = asking.access()
    parts.heading("This week", "The last seven days, for you to decide.")
    try:
        found = access.week(parts.today())
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    _list("Not looked at", found.not_looked_at, "Every set was looked at.", "review")
    _list("Form slips as the load rises", found.slipping, "Nobody's, as far as it was filmed.", "tempo")
    _list("Due for a question about the load", found.due, "Nobody.", "members")


def _list(title: str, lines: Sequence[WeekLine], none: str, page: str) -> None:
    st.header(title, divider=False)
    if not lines:
        st.caption(none)
    elif page == "members":
        load.caution()
    for line in lines:
        with st.container(border=True, key=f"week-{page}-{line.person_id}-{line.exercise}"):
            words, button = st.columns([5, 1], vertical_alignment="center")
            parts.html(line_html(line), words)
            query = {"set": str(line.set_id)} if line.set_id is not None else {"person": str(line.person_id)}
            query |= {"tab": "Load"} if page == "members" else {}
            button.page_link(
                st.session_state["pages"][page], label="Look", query_params=query, width="stretch",
                help=parts.plain(f"{line.name} {title_of(line.exercise) if line.exercise else ''}".strip()),
            )  # fmt: skip


def line_html(line: WeekLine) -> str:
    """Who, on which machine, and what there is to say."""
    machine = escape(title_of(line.exercise)) if line.exercise else ""
    return (
        f'<div class="pl-row plain"><span class="who">{escape(line.name)}</span>'
        f'<span class="when">{machine}</span><span class="what">{escape(with_days(line.words))}</span></div>'
    )
