"""Which sets wait for the trainer, most worrying first, each with its reason."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.page.studio import COOKIE
from app.rules.words import FEELINGS, ago, day_words, load_words, title_of, worry_kind
from app.rules.worry import PAIN
from app.store.queries import WaitingLine
from app.views import asking, pain, parts
from vision.telling.words import counted

MOST = 40
#: How often, in s, the list is looked at anew while it stands open.
ANEW_S = 10.0


@st.fragment(run_every=ANEW_S)
def show() -> None:
    """The list; new sets appear by themselves."""
    access = asking.access()
    lines = access.waiting(MOST + 1)
    under = "Most worrying first." if lines else "New sets appear here as soon as they are sent."
    parts.heading(_title([one for one in lines if one.status != "checking"]), under)
    if COOKIE not in st.context.cookies:
        st.caption("Open without sign-in: only this machine can reach the page.")
    pain.list_stopped(access)
    _list(lines)


def _title(lines: list[WaitingLine]) -> str:
    if not lines:
        return "No sets wait"
    return (
        "More than 40 sets wait"
        if len(lines) > MOST
        else f"{counted(len(lines), 'set')} {'waits' if len(lines) == 1 else 'wait'}"
    )


def _list(lines: list[WaitingLine]) -> None:
    for line in (one for one in lines[:MOST] if one.status != "checking"):
        with st.container(border=True, key=f"wait-{'pain-' if line.worry == PAIN else ''}{line.set_id}"):
            words, button = st.columns([5, 1], vertical_alignment="center")
            parts.html(row_html(line), words)
            with button:
                page = st.session_state["pages"]["review"]
                st.page_link(
                    page, label="Look", query_params={"set": str(line.set_id)}, width="stretch",
                    help=parts.plain(f"{line.member}, {title_of(line.exercise)}"),
                )  # fmt: skip
    if len(lines) > MOST:
        st.caption("Look at these first; the others follow.")
    checking = [one for one in lines[:MOST] if one.status == "checking"]
    if checking:
        rows = "".join(f"<li>{escape(_short(one))}</li>" for one in checking)
        parts.html(f"<p><b>Being checked</b></p><ul>{rows}</ul>")


def _short(line: WaitingLine) -> str:
    return f"{line.member}, {title_of(line.exercise)}, sent {ago(line.uploaded_at, parts.today_utc())}"


def row_html(line: WaitingLine) -> str:
    """One set in three lines: who and when, why, what."""
    now = parts.today_utc()
    kind = worry_kind(line.worry)
    what = [title_of(line.exercise), load_words(line.load, line.unit)]
    what += [counted(line.count, "rep")] if line.count is not None else []
    what += [FEELINGS[line.feeling].lower()] if line.feeling else []
    what += [f"done {day_words(line.done_on, now.date())}"]
    return (
        f'<div class="pl-row {kind}">{parts.mark(kind)}<span class="who">{escape(line.member)}</span>'
        f'<span class="when">{escape(ago(line.uploaded_at, now))}</span>'
        f'<span class="why">{escape(line.reason)}</span>'
        f'<span class="what">{escape(" · ".join(what))}</span></div>'
    )
