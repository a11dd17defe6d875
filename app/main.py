"""The page: who is asking decides which screens there are. One file a screen, in ``app/views``."""

from __future__ import annotations

import streamlit as st

from app.page.theme import ASSETS
from app.views import (
    account,
    asking,
    film,
    members,
    parts,
    results,
    review,
    sample,
    send,
    tempo,
    today,
    waiting,
    week,
)


def main() -> None:
    """Run the screen that was asked for."""
    st.set_page_config(page_title="Plumbset", page_icon=str(ASSETS / "plumb.svg"), layout="wide")
    parts.look()
    access = asking.access()
    if not access.actor.is_trainer:
        parts.narrow()
    if access.actor.is_trainer:
        pages = {
            "waiting": st.Page(waiting.show, title="Waiting", url_path="waiting", default=True),
            "week": st.Page(week.show, title="Week", url_path="week"),
            "members": st.Page(members.show, title="Members", url_path="members"),
            "film": st.Page(film.show, title="Film", url_path="film"),
            "tempo": st.Page(tempo.show, title="Tempo", url_path="tempo"),
            "studio": st.Page(account.show, title="Studio", url_path="studio"),
        }
        hidden = {"review": st.Page(review.show, title="Review", url_path="review")}
    else:
        pages = {
            "today": st.Page(today.show, title="Today", url_path="today", default=True),
            "film": st.Page(film.show, title="Film", url_path="film"),
            "results": st.Page(results.show, title="My sets", url_path="results"),
            "tempo": st.Page(tempo.show, title="Tempo", url_path="tempo"),
        }
        hidden = {"sample": st.Page(sample.show, title="Sample", url_path="sample")}
    chosen = st.navigation([*pages.values(), *hidden.values()], position="hidden")
    st.session_state["pages"] = pages | hidden
    with st.container(horizontal=True, key="nav", gap="small"):
        for page in pages.values():
            st.page_link(page, label=f"**{page.title}**" if page == chosen else page.title)
    sent = send.outbox(access.actor)
    if sent is not None and chosen == pages["film"]:
        film.arrived(access, sent)
    chosen.run()


if __name__ == "__main__":  # a process started from here loads this file anew, under another name
    main()
