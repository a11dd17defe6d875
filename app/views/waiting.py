"""Which sets wait for the trainer, most worrying first, each with its reason and its worst moment."""

from __future__ import annotations

from collections.abc import Mapping

import streamlit as st
from markupsafe import escape

from app.page.drawings import posture_drawing
from app.page.studio import COOKIE
from app.rules.states import PAIN_ALONE
from app.rules.words import FEELINGS, ago, day_words, exercise_of, load_words, set_title
from app.rules.worry import CLEAR, NOT_JUDGED, PAIN, worry_kind
from app.store.access import Access
from app.store.queries import WaitingLine
from app.views import asking, glance, pain, parts, recall
from vision.telling.words import counted

#: So many are shown at once; the search looks at all.
MOST = 40
#: How often, in s, the list is looked at anew while it stands open.
ANEW_S = 10.0
KINDS = ("All", "Pain", "Flagged", "Not judged", "Nothing flagged")


def show() -> None:
    """The list, or one repetition each of the sets with nothing flagged."""
    access = asking.access()
    recall.offer(access)
    if glance.STARTED in st.session_state:
        glance.show(access)
    else:
        _standing()


@st.fragment(run_every=ANEW_S)
def _standing() -> None:
    """The list; new sets appear by themselves."""
    access = asking.access()
    lines = access.waiting()
    under = "Most worrying first." if lines else "New sets appear here as soon as they are sent."
    ready = [one for one in lines if one.status != "checking"]
    parts.heading(_title(ready), under)
    if COOKIE not in st.context.cookies:
        st.caption("Open without sign-in: only this machine can reach the page.")
    if not lines and not access.members():
        with st.container(horizontal=True, key="first"):
            st.page_link(st.session_state["pages"]["members"], label="**Add a member**")
    pain.list_stopped(access)
    found = _chosen(ready) if len(ready) > 1 else ready
    shown = found[:MOST]
    _start(access, shown)
    _list(access, shown)
    if len(found) > MOST:
        st.caption(f"Look at these first; {len(found) - MOST} more follow.")
    checking = [one for one in lines if one.status == "checking"][:MOST]
    if checking:
        rows = "".join(f"<li>{escape(_short(one))}</li>" for one in checking)
        parts.html(f"<p><b>Being checked</b></p><ul>{rows}</ul>")


def _title(lines: list[WaitingLine]) -> str:
    return f"{counted(len(lines), 'set')} to review" if lines else "Nothing to review"


def _chosen(lines: list[WaitingLine]) -> list[WaitingLine]:
    """The sets that fit what is searched for."""
    with st.container(horizontal=True, key="search", vertical_alignment="bottom"):
        wanted = st.text_input("Member or machine", key="search-words", width=240).strip().casefold()
        kind = st.pills("Which", KINDS, default="All", key="search-kind") or "All"
    return [one for one in lines if wanted in _searched(one) and fits(one, kind)]


def _searched(line: WaitingLine) -> str:
    return f"{line.member} {set_title(line.exercise, line.status)} {line.reason}".casefold()


def fits(line: WaitingLine, kind: str) -> bool:
    """Whether a set is of that kind, one of ``KINDS``."""
    of = {
        "Pain": line.worry == PAIN,
        "Flagged": line.worry != PAIN and worry_kind(line.worry) == "flag",
        "Not judged": line.worry == NOT_JUDGED,
        "Nothing flagged": line.worry == CLEAR,
    }
    return of.get(kind, True)


def _start(access: Access, lines: list[WaitingLine]) -> None:
    """Into the review by one key, and through what is clear in one go."""
    if not lines:
        return
    clear = [one.set_id for one in lines if one.worry == CLEAR and access.has_clip(one.set_id)]
    with st.container(horizontal=True, key="start"):
        if st.button("Open the first", shortcut="o", type="primary"):
            where = {"set": str(lines[0].set_id)}
            st.switch_page(st.session_state["pages"]["review"], query_params=where)
        if len(clear) > 1 and st.button(f"Nothing flagged in {len(clear)}: look at one repetition each"):
            glance.start(clear)


def _list(access: Access, lines: list[WaitingLine]) -> None:
    pictures = access.worst_pictures([one.set_id for one in lines])
    for line in lines:
        with st.container(border=True, key=f"wait-{'pain-' if line.worry == PAIN else ''}{line.set_id}"):
            words, button = st.columns([5, 1], vertical_alignment="center")
            parts.html(_pictured(line, pictures), words)
            with button:
                page = st.session_state["pages"]["review"]
                st.page_link(
                    page, label="Look", query_params={"set": str(line.set_id)}, width="stretch",
                    help=parts.plain(f"{line.member}, {set_title(line.exercise, line.status)}"),
                )  # fmt: skip


def _short(line: WaitingLine) -> str:
    called, sent = set_title(line.exercise, line.status), ago(line.uploaded_at, parts.today_utc())
    return f"{line.member}, {called}, sent {sent}"


def _pictured(line: WaitingLine, pictures: Mapping[int, bytes]) -> str:
    """The row behind a small picture of its worst moment, else of the machine."""
    picture, exercise = pictures.get(line.set_id), exercise_of(line.exercise)
    drawn = posture_drawing(exercise) if exercise else ""
    image = f'<img src="{parts.picture_address(picture)}" alt="">' if picture else ""
    if not picture and drawn:
        image = str(parts.drawing(drawn, ""))
    return f'<div class="pl-wait"><span class="thumb">{image}</span>{row_html(line)}</div>'


def row_html(line: WaitingLine) -> str:
    """One set in three lines: who and when, why, what."""
    now = parts.today_utc()
    kind = worry_kind(line.worry)
    what = [set_title(line.exercise, line.status)]
    what += [] if line.status == PAIN_ALONE else [load_words(line.load, line.unit)]
    what += [counted(line.count, "rep")] if line.count is not None else []
    what += [FEELINGS[line.feeling].lower()] if line.feeling else []
    what += [f"done {day_words(line.done_on, parts.today())}"]
    return (
        f'<div class="pl-row {kind}">{parts.mark(kind)}<span class="who">{escape(line.member)}</span>'
        f'<span class="when">{escape(ago(line.uploaded_at, now))}</span>'
        f'<span class="why">{escape(line.reason)}</span>'
        f'<span class="what">{escape(" · ".join(what))}</span></div>'
    )
