"""A trainer's review of one set: the desk with clip and cards, and below it what is needed less often."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st
from markupsafe import escape

from app.jobs.early import early_reader
from app.page.cards import cannot_tell
from app.page.typeface import with_typeface
from app.page.whole_report import as_decided
from app.rules import told
from app.rules.handed import in_one_line
from app.rules.other_machine import MACHINE, doubt_of
from app.rules.states import PAIN_ALONE
from app.rules.unread import failed_words
from app.rules.words import FEELINGS, day_words, exercise_of, set_title
from app.store.access import Access
from app.store.database import StoreTrouble
from app.store.models import Person, TrainingSet
from app.views import asking, clip, counting, machine, marking, mending, newcomer, pain, parts, recall, second
from app.views.card import card_html, not_checked
from app.views.desk import BEFORE, desk_data, take, trouble, with_waiting
from app.views.kept import decided, from_before, offer, sent_before
from shared.errors import PlumbsetError
from shared.report import SetReport
from vision.telling.first_look import BEGIN
from vision.telling.groups import unseen
from vision.telling.setup_questions import setup_questions

KEYS = (
    "**Y** agree · **E** reword · **X** no fault · **U** undo · **M** say something of this moment · "
    "**N** note · **H** hand over · **K** or space play · **J**, **L** repetition before and after · "
    "**F** next flag · **S** speed · **O** drawing · **W** full screen · an arrow the next card, with Shift "
    "one frame"
)
NO_HANDOUT_PAIN = "No hand-out: pain was reported with this set."
NO_HANDOUT_UNFIT = "No hand-out: this set could not be judged."
NO_HANDOUT_NOW = "No hand-out yet: first say which machine it was, or clear the member's pain."


def show() -> None:
    """The page of one set."""
    access = asking.access()
    recall.offer(access)
    set_id = parts.number_in_address("set")
    try:
        row = access.set(set_id or 0)
        member = access.person(row.person_id)
        report = access.report(row.id)
    except StoreTrouble as trouble:
        parts.heading("This set cannot be shown just now")
        parts.said_wrong(trouble)
        st.button("Try again", key="again")  # the same as the desk's
        return
    except PlumbsetError as error:
        parts.heading("No such set")
        parts.said_wrong(error)
        return
    _top(access, row, member)
    sent_before(access, row)
    pain.stops(access, member)
    pain.of_set(access, row)
    if report is None or row.status in ("checking", "failed"):
        _without_report(access, row, member)
    else:
        _with_report(access, row, member, report)
    card = access.card(row.person_id, row.exercise)
    parts.html(card_html(card, access.room()))
    not_checked(card)
    newcomer.ask(access, member)


def _top(access: Access, row: TrainingSet, member: Person) -> None:
    what = [set_title(row.exercise, row.status)]
    what += [] if row.status == PAIN_ALONE else [access.room().load_words(row.load, row.unit)]
    what += [day_words(row.done_on, parts.today())]
    if row.feeling:
        what.append(f"felt: {FEELINGS[row.feeling].lower()}")
    if row.side:
        what.append(f"{row.side} side")
    if member.beginner:
        what.append("new to the room")
    if row.reviewed_at is not None:
        what.append("asked for another video" if row.status == "failed" else "handed over")
        what += ["changed since, not sent"] if access.is_unsent(row.id) else []
    parts.heading(member.name, " · ".join(what))


def _without_report(access: Access, row: TrainingSet, member: Person) -> None:
    if row.status == "checking":
        st.info("This set is still being checked; the clip and its prompts appear here when that is done.")
        progress(access, row.id)
        return
    if row.status == "failed":
        st.error(parts.plain(failed_words(row.message)))
        _check_again(access, row)
        machine.other(access, row)
        offer(access, row)
    _hand_over(access, row, member)


def _check_again(access: Access, row: TrainingSet) -> None:
    if not st.button("Have it checked again"):
        return
    try:
        access.try_again(row.id)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()


@st.fragment(run_every=1.0)
def progress(access: Access, set_id: int) -> None:
    """How far the check has come, and its first words; the page is shown anew when it is over."""
    job = access.job(set_id)
    if job is None or job.state not in ("queued", "running"):
        st.rerun()
    early = "" if job.step.startswith(BEGIN) else early_reader().first_words(set_id)
    st.progress(min(1.0, job.progress), text=parts.plain(early or job.step))


def _with_report(access: Access, row: TrainingSet, member: Person, report: SetReport) -> None:
    said = with_waiting(row.id, access.said(row.id))
    doubt = doubt_of(report) if MACHINE not in said else None
    if doubt is not None:
        machine.ask(access, row, member.name, doubt)
    if from_before(row):
        _check_again(access, row)
    for problem in report.quality.problems:
        st.warning(parts.plain(problem.text))
    again = trouble(row)
    data = desk_data(access, row, member.name, report=report, said=said, asked=doubt is not None)
    take(access, row, member.name, clip.desk(data, key=f"desk-{row.id}"), again)
    _below(access, row, report, said)
    machine.other(access, row, report.quality.view)
    mending.show(access, row)
    if row.reviewed_at is not None and row.status == "checked":
        _reference(access, row, member, clean=not told.standing(report, said))


def _below(access: Access, row: TrainingSet, report: SetReport, said: Mapping[str, told.Said]) -> None:
    exercise = exercise_of(row.exercise)
    if questions := setup_questions(report, exercise):
        st.markdown("**Set-up, to ask first**")
        st.markdown("\n".join(f"- {parts.plain(question)}" for question in questions))
    tempo = report.tempo.sentence if report.tempo else ""
    parts.html(
        f"<p><b>{escape(in_one_line(report, said))}.</b> {escape(tempo)}</p>"
        + "".join(f'<p class="pl-quiet">{escape(n)}</p>' for n in _notes(report))
    )
    counting.show(access, row)
    titles, reasons = cannot_tell(report, exercise)
    if titles:
        lines = "".join(f"<li>{escape(line)}</li>" for line in reasons)
        parts.html(
            f'<details class="pl-quiet"><summary>Cannot tell from this clip: {escape(titles)}</summary>'
            f"<ul>{lines}</ul></details>"
        )
    if access.has_clip(row.id):
        marking.show(access, row, report)
    second.offer(access, row)
    decided(access, row.id, report)
    offer(access, row)
    with st.expander("Keyboard, hand-out, and the whole report"):
        st.markdown(KEYS)
        _take_along(access, row, report)


def _take_along(access: Access, row: TrainingSet, report: SetReport) -> None:
    """The hand-out and the report as files; both say what was decided up to the moment they are fetched."""
    if access.has_handout(row.id):
        st.download_button(
            "Hand-out as a picture for a phone", lambda: access.handout(row.id) or b"", f"set-{row.id}.png",
            "image/png", on_click="ignore",
        )  # fmt: skip
    else:
        st.caption(_why_no_handout(row, report))
    if access.has_page(row.id):
        st.download_button(
            "Whole report as one page, for you", lambda: _whole(access, row, report), f"set-{row.id}.html",
            "text/html", on_click="ignore",
        )  # fmt: skip


def _whole(access: Access, row: TrainingSet, report: SetReport) -> bytes:
    page = with_typeface(access.report_page(row.id) or b"")
    return as_decided(page, access.handout(row.id), _why_no_handout(row, report))


def _why_no_handout(row: TrainingSet, report: SetReport) -> str:
    if row.pain:
        return NO_HANDOUT_PAIN
    return NO_HANDOUT_NOW if report.quality.usable else NO_HANDOUT_UNFIT


def _notes(report: SetReport) -> list[str]:
    """What is to be read beside the clip: what is not as in the approved set first."""
    drifts = [drift.text for drift in report.reference.drifts] if report.reference else []
    return [*drifts, *report.notices, *unseen(report), *report.quality.notes]


def _hand_over(access: Access, row: TrainingSet, member: Person) -> None:
    """Handing over a set that has no report: the note alone; asking for another clip where there is one."""
    said: dict[str, Any] = dict(access.said(row.id))
    kept = said[told.NOTE].words if told.NOTE in said else ""
    name = parts.plain(member.name)
    st.caption(BEFORE)
    note = st.text_area(f"Note to {name}", kept, max_chars=600, key=f"note-{row.id}")
    what = f"Ask {name} for another video" if row.status == "failed" else f"Hand over to {name}"
    if not st.button(what, type="primary", width="stretch"):
        return
    try:
        if note != kept:
            access.decide(row.id, [told.NOTE], "note", note)
        access.release(row.id)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    recall.go_on(access, row, member.name)


def _reference(access: Access, row: TrainingSet, member: Person, clean: bool) -> None:
    """Approving a set for later ones to be compared with. clean: nothing was said of it."""
    name, approved = parts.plain(member.name), access.reference(row.person_id, row.exercise)
    if approved == row.id:
        st.caption(f"{name}'s approved set on this machine: later sets are compared with it.")
        return
    if not clean or row.pain:
        st.caption(
            f"A set with a fault, with pain or with words from a trainer is not offered as {name}'s approved "
            "set."
        )
        return
    if approved is None:
        st.caption(f"{name} has no approved set on this machine yet. Shall this be it?")
    if st.button(f"Approve it: compare {name}'s later sets with this one", width="stretch"):
        access.make_reference(row.id)
        st.rerun()
