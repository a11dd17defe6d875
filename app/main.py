"""The page: who is asking decides which screens there are. One file a screen, in ``app/views``."""

from __future__ import annotations

import streamlit as st

from app.theme import ASSETS
from app.views import account, film, members, parts, results, review, tempo, waiting

st.set_page_config(page_title="Plumbset", page_icon=str(ASSETS / "plumb.svg"), layout="wide")
parts.look()
access = parts.access()

if access.actor.is_trainer:
    pages = [
        st.Page(waiting.show, title="Waiting", url_path="waiting", default=True),
        st.Page(members.show, title="Members", url_path="members"),
        st.Page(film.show, title="Film", url_path="film"),
        st.Page(tempo.show, title="Tempo", url_path="tempo"),
        st.Page(account.show, title="Sign-in", url_path="account"),
    ]
    hidden = [st.Page(review.show, title="Review", url_path="review")]
else:
    pages = [
        st.Page(film.show, title="Film a set", url_path="film", default=True),
        st.Page(results.show, title="My sets", url_path="results"),
        st.Page(tempo.show, title="Tempo", url_path="tempo"),
    ]
    hidden = []

chosen = st.navigation([*pages, *hidden], position="hidden")
st.session_state["pages"] = {page.url_path or page.title: page for page in [*pages, *hidden]}
with st.container(horizontal=True, key="nav", gap="small"):
    for page in pages:
        st.page_link(page, label=f"**{page.title}**" if page == chosen else page.title)
chosen.run()
