"""The studio: its settings, its trainers, how often they agree with the checks, and signing in."""

from __future__ import annotations

import streamlit as st

from app.page.entry import no_way_back
from app.page.studio import COOKIE, this_studio
from app.store import signin
from app.store.access import Access
from app.views import agreement, asking, found, parts, phone_cards, proof, room, stations, trainers
from shared.errors import PlumbsetError


def show() -> None:
    """A tab each; the settings first."""
    access = asking.access()
    parts.heading("Studio", "How this room works, how often you agree with each check, and who may sign in.")
    parts.tabs(
        "account",
        {
            "Settings": lambda: room.show(access),
            "Trainers": lambda: trainers.show(access),
            "Do you agree?": lambda: agreement.show(access, None),
            "Found and missed": lambda: found.show(access),
            "Proof": lambda: proof.show(access),
            "Stations": lambda: stations.show(access),
            "Cards": lambda: phone_cards.show(access),
            "Sign-in": lambda: _sign_in(access),
        },
    )


def _sign_in(access: Access) -> None:
    if asking.has_provider():
        _email(access)
    _account(access, COOKIE in st.context.cookies)
    parts.sign_out()


def _email(access: Access) -> None:
    """The trainer's e-mail with the studio's provider."""
    with st.form("email"):
        email = st.text_input(
            "Your e-mail with the studio's accounts", access.me().email or "", max_chars=254
        )
        keep = st.form_submit_button("Save the e-mail")
    if not keep:
        return
    try:
        access.set_email(email)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.success("Saved. You may sign in with the studio's accounts from now on.")


def _account(access: Access, signed_in: bool) -> None:
    login = access.me().login or ""
    came = (
        no_way_back(access)
        if signed_in
        else "This page was started without sign-in: whoever uses this machine is the trainer."
    )
    others = "To open it from other devices, choose a login and a password here."
    st.caption(f"You sign in as {login}." if login and signed_in else f"{came} {others}".strip())
    with st.form("account"):
        name = st.text_input("Login", login, max_chars=80, autocomplete="username")
        password = st.text_input(
            "New password, 10 characters or more", type="password", autocomplete="new-password"
        )
        again = st.text_input("The same again", type="password", autocomplete="new-password")
        keep = st.form_submit_button("Save", type="primary")
    if not keep:
        return
    if password != again:
        st.error("The two passwords differ; type them again.")
        return
    try:
        signin.set_account(this_studio().database, asking.access().actor, name, password)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.success("Saved. Every session of before has ended; sign in with the new password.")
