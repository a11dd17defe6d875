"""Members: who there is, their settings card on each machine, their sets, links and printed sheet."""

from __future__ import annotations

from datetime import date
from urllib.parse import urlsplit

import streamlit as st
from markupsafe import escape

from app.page.qr import qr_svg
from app.page.studio import LOOPBACK
from app.rules.room import Length, in_cm, in_feet
from app.rules.states import PAIN_ALONE
from app.rules.words import day_words, set_title
from app.store.access import Access
from app.store.base import day_of
from app.store.models import Person, TrainingSet
from app.store.queries import MemberLine
from app.views import (
    agreement,
    archive,
    asking,
    card,
    load,
    member_day,
    newcomer,
    older,
    pain,
    parts,
    phone_cards,
)
from shared.errors import PlumbsetError
from vision.telling.words import counted

MOST = 40
#: Number of the member that was added last in this window.
ADDED = "member-added"
ONLY_HERE = (
    "Only this computer can open this link. To let phones in: choose a login under Studio, Sign-in; have "
    "whoever set Plumbset up start it for the studio's network; open this page by the address that phones "
    "will use, and make the link there."
)


def show() -> None:
    """One member where the address names one, else the list."""
    access = asking.access()
    person_id = parts.number_in_address("person")
    try:
        if person_id is not None:
            _one(access, access.person(person_id))
            return
    except PlumbsetError as error:
        parts.said_wrong(error)
    _list(access, access.members())


def _list(access: Access, members: list[MemberLine]) -> None:
    parts.heading("Members", counted(len(members), "member") if members else "Add the first one below.")
    find = st.text_input("Find", placeholder="Part of a name", key="find") if len(members) > 8 else ""
    today = parts.today()
    found = [m for m in members if find.strip().casefold() in m.name.casefold()]
    for line in found[:MOST]:
        with st.container(border=True, key=f"member-{line.id}"):
            words, button = st.columns([5, 1], vertical_alignment="center")
            last = f"last set {day_words(line.last_set, today)}" if line.last_set else "no set yet"
            more = [counted(line.sets, "set"), last] + (["new to the room"] if line.beginner else [])
            waits = (
                f'<span class="pl-tag wait">{counted(line.waiting, "set")} to look at</span>'
                if line.waiting
                else ""
            )
            parts.html(
                f'<div class="pl-row plain"><span class="who">{escape(line.name)}</span>'
                f'<span>{waits}</span>'
                f'<span class="what">{escape(" · ".join(more))}</span></div>', words,
            )  # fmt: skip
            page = st.session_state["pages"]["members"]
            button.page_link(
                page, label="Open", query_params={"person": str(line.id)}, width="stretch",
                help=parts.plain(line.name),
            )  # fmt: skip
    if len(found) > MOST:
        st.caption(f"{len(found) - MOST} more; type a part of the name above.")
    with st.expander("Add a member", expanded=not members):
        _person_form(access, None)
    archive.show_list(access)


def _person_form(access: Access, person: Person | None) -> None:
    # each new member has a form of its own: the second tap of a double one on Add meets none that it fits
    added = st.session_state.get(ADDED, 0)
    with st.form(f"person-{person.id if person else f'new-{added}'}", border=False):
        name = st.text_input("Name", person.name if person else "", max_chars=80)
        height = _height(person.height_cm if person else None, access.room().length)
        email = person.email if person and person.email else ""
        if asking.has_provider():
            email = st.text_input("E-mail, for signing in with the studio's accounts", email, max_chars=254)
        beginner = st.checkbox("New to the room", person.beginner if person else True)
        keep = st.form_submit_button("Save" if person else "Add", type="primary")
    if keep:
        try:
            person_id = access.save_member(person.id if person else None, name, height, beginner, email)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        if person is None:
            st.session_state[ADDED] = person_id
        st.query_params["person"] = str(person_id)
        st.rerun()


def _height(height_cm: float | None, unit: Length) -> float | None:
    """The body height in cm, asked in the room's unit."""
    if unit == "cm":
        return st.number_input("Body height in cm (may stay empty)", value=height_cm, step=1.0, format="%g")
    known = (None, None) if height_cm is None else in_feet(height_cm)
    left, right = st.columns(2)
    feet = left.number_input("Body height, feet (may stay empty)", value=known[0], step=1)
    inches = right.number_input("and inches", value=known[1], step=0.5, format="%g")
    if feet is None:
        return None
    same = known == (feet, inches or 0.0)
    return height_cm if same else in_cm(feet, inches or 0.0)


def _one(access: Access, person: Person) -> None:
    if person.archived_at is not None:
        archive.show(access, person)
        return
    under = agreed_words(person, parts.today())
    parts.heading(person.name, " · ".join([under, counted(access.set_count(person.id), "set")]))
    with st.container(horizontal=True, key="links"):
        pages, query = st.session_state["pages"], {"person": str(person.id)}
        st.page_link(pages["members"], label="All members", icon=":material/arrow_back:")
        st.page_link(pages["film"], label="Send a set", query_params=query, icon=":material/videocam:")
        st.page_link(pages["tempo"], label="Tempo over weeks", query_params=query, icon=":material/timeline:")
    pain.stops(access, person)
    newcomer.ask(access, person)
    parts.tabs(
        f"tabs-{person.id}",
        {
            "Today": lambda: member_day.show(access, person),
            "Settings card": lambda: card.show(access, person),
            "Sets": lambda: _sets(access, person.id),
            "Load": lambda: load.show(access, person),
            "Do you agree?": lambda: agreement.show(access, person),
            "Person and link": lambda: _person(access, person),
        },
    )


def agreed_words(person: Person, today: date) -> str:
    """Since when a member has agreed to be filmed, and who wrote it down."""
    if person.consent_at is None:
        return "Has not agreed to be filmed yet"
    noted = f" (noted by {person.consent_by})" if person.consent_by else ""
    return f"Agreed to be filmed {day_words(day_of(person.consent_at), today)}{noted}"


def _person(access: Access, person: Person) -> None:
    _person_form(access, person)
    _link(access, person)
    phone_cards.of_member(access, person)
    archive.offer(access, person)


def _sets(access: Access, person_id: int) -> None:
    today, room = parts.today(), access.room()
    sets, more = older.sets_shown(access, person_id)
    if not sets:
        st.caption("No set yet.")
    for row in sets:
        with st.container(border=True, key=f"set-{row.id}"):
            words, button = st.columns([5, 1], vertical_alignment="center")
            load = [] if row.status == PAIN_ALONE else [room.load_words(row.load, row.unit)]
            called = escape(set_title(row.exercise, row.status))
            said = " · ".join([*load, day_words(row.done_on, today)])
            said += "" if row.status == "checking" else f" · {row.worry_words}"
            parts.html(
                f'<div class="pl-row plain"><span class="who">{called}</span>'
                f'<span class="when">{_state(row)}</span><span class="what">{escape(said)}</span></div>',
                words,
            )
            page = st.session_state["pages"]["review"]
            button.page_link(page, label="Look", query_params={"set": str(row.id)}, width="stretch")
    if more:
        older.offer(person_id)


def _state(row: TrainingSet) -> str:
    """Where a set stands on its way back to the member."""
    if row.status == "checking":
        return "being checked"
    return "handed over" if row.reviewed_at else "waits for you"


def _link(access: Access, person: Person) -> None:
    links = access.links(person.id)
    st.header("Personal link", divider=False)
    st.caption(
        "Whoever has the link sees this member's sets and may send new ones. Hand it to the member only."
    )
    days = st.number_input("Works for how many days", 1, 366, 90)
    with st.container(horizontal=True):
        if st.button("Make a link", type="primary"):
            secret = access.make_link(person.id, int(days))
            address = (st.context.url or "").split("/members")[0].rstrip("/")
            st.session_state[f"link-{person.id}"] = f"{address}/enter/{secret}"
            st.rerun()
        if links and st.button(f"End {counted(len(links), 'link')}"):
            access.revoke_links(person.id)
            st.session_state.pop(f"link-{person.id}", None)
            st.rerun()
    made = st.session_state.get(f"link-{person.id}")
    if made:
        _made_link(made, person.name)
    today = parts.today()
    for line in links:
        st.caption(f"A link works until {day_words(day_of(line.expires_at), today)}.")


def _made_link(made: str, name: str) -> None:
    """A link that was just made, as text, and as a QR code where a phone can open it."""
    here = urlsplit(made).hostname in LOOPBACK
    if not here:
        parts.html(parts.drawing(qr_svg(made), f"QR code of {name}'s link", "qr"))
    st.code(made, language=None)
    if here:
        st.warning(ONLY_HERE)
    else:
        st.caption("Shown only now: let their phone's camera read it, or copy it.")
