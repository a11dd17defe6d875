"""The way in by the studio's own accounts: Streamlit asks the provider, the store knows the person."""

from __future__ import annotations

import json

import streamlit as st

from app.page.entry import ENTER
from app.page.studio import this_studio
from app.store import signin
from app.views import parts
from shared.errors import PlumbsetError


def show() -> None:
    """Off to the provider, or back from it with a verified e-mail: then on through the door."""
    if not st.user.is_logged_in:
        parts.heading("Sign in", "With your account of the studio.")
        st.button("Go to the studio's sign-in", on_click=st.login, type="primary")
        parts.html(f'<p><a href="{ENTER}" target="_self">Sign in with login and password instead</a></p>')
        return
    try:
        secret = signin.vouched_for(this_studio().database, st.user.to_dict())
    except PlumbsetError as error:
        parts.heading("Not let in")
        parts.said_wrong(error)
        st.button("Use another account", on_click=st.logout)
        return
    address = f"{ENTER}/{secret}"
    parts.html(f'<p><a href="{address}" target="_self">Go on</a></p>')
    onward = f"<script>window.location.replace({json.dumps(address)})</script>"
    st.html(onward, unsafe_allow_javascript=True)
