"""A sample set on a first visit: what a result looks like before there is one of one's own."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.page import sample
from app.views import parts, send
from app.views.results import prompt_html


def show() -> None:
    """The sample as a result is shown."""
    exercise, clip, told = sample.sample()
    parts.heading(f"Sample: {exercise.title.lower()}", sample.NOTE)
    parts.html(f"<p><b>{escape(told.headline)}.</b></p>")
    send.result(clip, key="sample")
    for number, prompt in enumerate(told.prompts):
        with st.container(border=True, key=f"told-{number}"):
            parts.html(prompt_html(prompt, None, told))
    with st.container(horizontal=True, key="first"):
        st.page_link(st.session_state["pages"]["film"], label="**Film your first set**")
    parts.cautions(exercise)
