"""Trainers: who works here, who comes in and who leaves, and for the owner who looked at whose clip."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.store.access import Access
from app.store.trainers import INVITED_DAYS, TrainerLine
from app.views import parts
from shared.errors import PlumbsetError
from vision.telling.words import counted


def show(access: Access) -> None:
    """The trainers; the rest is for the owner."""
    owner = access.is_owner()
    for line in access.trainers():
        with st.container(border=True, key=f"trainer-{line.id}"):
            _one(access, line, may=owner and line.active and not line.owner)
    if not owner:
        st.caption("The owner, who has been a trainer here longest, lets others in and out.")
        return
    _invite(access)
    _looks(access)


def _one(access: Access, line: TrainerLine, may: bool) -> None:
    words, button = st.columns([4, 1], vertical_alignment="center")
    state = "Owner" if line.owner else "Works here" if line.active else "Has left; their decisions stay"
    row = f'<span class="who">{escape(line.name)}</span><span class="what">{state}</span>'
    parts.html(f'<div class="pl-row plain">{row}</div>', words)
    if may:
        with button.popover("Let go"):
            _let_go(access, line)


def _let_go(access: Access, line: TrainerLine) -> None:
    st.caption(
        f"{parts.plain(line.name)} is shut out at once; what they decided stays. To have them back, "
        "let them in as a new trainer."
    )
    if st.button(f"Shut out {parts.plain(line.name)}", key=f"let-go-{line.id}", type="primary"):
        try:
            access.let_go(line.id)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.rerun()


def _invite(access: Access) -> None:
    made, many = st.session_state.get("invited", ("", 0))
    with st.form(f"invite-{many}"):  # another form for each: a second press of one adds nobody
        name = st.text_input("A new trainer's name", max_chars=80)
        add = st.form_submit_button("Let them in", type="primary")
    if add and made and not name.strip():
        st.caption("To let in someone else, type their name first.")
    elif add:
        try:
            secret = access.invite_trainer(name)
        except PlumbsetError as error:
            parts.said_wrong(error)
        else:
            address = (st.context.url or "").split("/studio")[0].rstrip("/")
            st.session_state["invited"] = (f"{address}/enter/{secret}", many + 1)
            st.rerun()
    if made:
        st.code(made, language=None)
        st.caption(
            f"Shown only now: copy it for them. It works once, within {counted(INVITED_DAYS, 'day')}; they "
            "choose a login and a password under Studio, Sign-in."
        )


def _looks(access: Access) -> None:
    st.header("Who looked at whose clip", divider=False)
    looks = access.looks()
    lines = (
        f"<li>{escape(look.trainer)} at {escape(look.member)}'s set {look.set_id}, "
        f"{escape(parts.moment(look.at))}</li>"
        for look in looks
    )
    parts.html(f'<ul class="pl-quiet">{"".join(lines)}</ul>')
    if not looks:
        st.caption(
            "Nobody yet. Each trainer is noted once a day for each set whose clip or pictures they see."
        )
