"""Who is asking, and the store as they may see it: what every screen begins with."""

from __future__ import annotations

from urllib.parse import urlsplit

import streamlit as st

from app.page import oidc
from app.page.studio import COOKIE, acting, this_studio
from app.store.access import Access
from app.store.database import StoreTrouble
from app.views import parts, provider
from vision.telling.words import counted


def access() -> Access:
    """The store as the person who is asking may see it; ends the page where nobody may or none can tell."""
    studio = this_studio()
    try:
        actor = acting(studio, st.context.cookies, st.context.headers)
    except StoreTrouble as trouble:
        parts.said_wrong(trouble)
        st.button("Try again", key="again")
        st.stop()
    at_door = COOKIE not in st.context.cookies and urlsplit(st.context.url or "").path.endswith(oidc.PAGE)
    if studio.provider and (actor is None or at_door):
        provider.show()
        st.stop()
    if actor is None:
        st.html('<div class="pl"><p>You are signed out.</p><p><a href="/enter">Sign in</a></p></div>')
        st.stop()
    return studio.access(actor)


def new_for_sets() -> int:
    """After how many sets a trainer is asked whether a member is still new."""
    return this_studio().settings.new_for_sets


def kept_words() -> str:
    """For how long a clip is kept as it was sent, for whoever films and for whoever looks after it."""
    return (
        f"A clip is kept as it was sent for {counted(days_kept(), 'day')} and then dropped. Its numbers, "
        "pictures and the drawn clip with heads hidden stay."
    )


def days_kept() -> int:
    """For how many days clips are kept as they were sent."""
    return this_studio().days_kept()


def has_provider() -> bool:
    """Whether people may sign in with the studio's own accounts."""
    return this_studio().provider
