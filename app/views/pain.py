"""Pain before everything else: the one notice of every screen, for whom it stops and who clears it."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.rules.pain import PainTold, Stop
from app.rules.states import PAIN_ALONE
from app.rules.words import FEELINGS, title_of
from app.store.access import Access
from app.store.base import day_of
from app.store.models import Person, TrainingSet
from app.views import parts
from shared.errors import PlumbsetError

QUESTION = "Sharp or joint pain today?"
DENIED = "You said today that nothing hurts. If that changes, stop and tell us under Film."
UNTIL = "The phone at a machine keeps your sets only on a day on which you answer No."
GO_ON = "Stop again and tell us if it comes back."


def stops(access: Access, person: Person) -> bool:
    """Whether pain stops a member; says so, and lets a trainer clear it."""
    stop = access.pain(person.id)
    if stop.stops and access.actor.is_trainer:
        _for_trainer(access, person, stop)
    elif stop.stops:
        parts.stop_notice(stop.places)
    return stop.stops


def ask_for_the_day(access: Access, me: Person) -> None:
    """The day's question, for a member whose card a phone at a machine may see."""
    if access.card_number(me.id) is None:
        return
    if access.denies_pain(me.id):
        parts.html(f'<p class="pl-note">{DENIED}</p>')
        return
    answer = st.segmented_control(QUESTION, ["No", "Yes"], key=f"pain-today-{me.id}", width="stretch")
    st.caption(UNTIL)
    if answer is None:
        return
    try:
        access.deny_pain(me.id) if answer == "No" else access.tell_pain(me.id)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.session_state.pop(f"pain-today-{me.id}", None)
    st.rerun()


def cleared_lately(access: Access, person: Person) -> None:
    """For the member: who cleared their pain today."""
    cleared = access.pain(person.id).cleared
    if cleared is not None and day_of(cleared[1]) == parts.today():
        said = f"{cleared[0]} cleared your pain {parts.moment(cleared[1])}: you may go on. {GO_ON}"
        parts.html(f'<p class="pl-note">{escape(said)}</p>')


def of_set(access: Access, row: TrainingSet) -> None:
    """For the trainer: all that was told of a set with pain, in the order it was told, and who cleared it.

    Red is what is not cleared alone: its notice stands above this.
    """
    if not row.pain:
        return
    when = " and ".join(w for w, told in (("with", row.pain_before), ("after", row.pain_after)) if told)
    when = "" if row.status == PAIN_ALONE else f" {when} the set"
    place = f": {row.pain_where}" if row.pain_where else ""
    lines = "".join(f"<li>{escape(line)}</li>" for line in _lines(access, row.id))
    parts.html(f'<div class="pl-note">Pain reported{escape(f"{when}{place}")}.<ul>{lines}</ul></div>')


def list_stopped(access: Access) -> None:
    """For the trainer: every member who stops, each with a way to their page."""
    for one in access.stopped():
        words, button = st.columns([5, 1], vertical_alignment="center")
        where = f": {one.stop.places}" if one.stop.places else ""
        told = f"has pain{where}. Reported {parts.moment(one.stop.open[0].at)}."
        parts.html(f'<div class="pl-stop"><b>{escape(one.name)}</b> {escape(told)}</div>', words)
        button.page_link(
            st.session_state["pages"]["members"], label="Ask and clear", width="stretch",
            query_params={"person": str(one.person_id)}, help=parts.plain(one.name),
        )  # fmt: skip


def _for_trainer(access: Access, person: Person, stop: Stop) -> None:
    """The reports, and the way to clear them. The keys name the last one: a new report asks anew."""
    lines = "".join(f"<li>{escape(_told(one))}</li>" for one in stop.reports)
    name = parts.plain(person.name)
    parts.html(
        f'<div class="pl-stop" role="alert">{parts.mark("flag")}Pain reported, not cleared'
        f"<ul>{lines}</ul>"
        f"<p>Talk to {escape(person.name)} first. Until you clear this, every screen tells them to stop. "
        "Your name and the time are saved. A clinician's word comes before yours and ours.</p></div>"
    )
    seen = f"{person.id}-{stop.last}"
    spoken = st.checkbox(
        f"I have talked to {name}, and any clinician's advice is followed.", key=f"spoken-{seen}"
    )
    if st.button(f"Clear it: {name} may go on", key=f"clear-pain-{seen}", disabled=not spoken):
        access.clear_pain(person.id, stop.last)
        st.rerun()


def _told(one: PainTold) -> str:
    machine = f", {title_of(one.exercise)}" if one.exercise else ""
    return f"{one.place or 'No place given'}{machine}, {parts.moment(one.at)}"


def _lines(access: Access, set_id: int) -> list[str]:
    out = []
    for said in access.tellings(set_id):
        what = ["pain" if said.pain else "no pain", said.place]
        what += [f"felt: {FEELINGS[said.feeling].lower()}"] if said.feeling else []
        told = f"{', '.join(w for w in what if w)} (told by {said.by}, {parts.moment(said.at)})"
        over = said.cleared and f", cleared by {said.cleared[0]}, {parts.moment(said.cleared[1])}"
        out.append(f"{told}{over or ''}")
    return out
