"""A trainer's review of one set: clip and strip on the left, what was found on the right."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.page.entry import CLIP
from app.page.timeline import strip
from app.rules import told
from app.rules.words import FEELINGS, day_words, exercise_of, load_words, title_of
from app.store.access import Access
from app.store.models import Person, TrainingSet
from app.views import asking, clip, marking, newcomer, pain, parts, review_cards
from app.views.card import card_html, not_checked
from shared.errors import PlumbsetError
from shared.report import SetReport
from vision.telling.cues import headline
from vision.telling.files import HANDOUT
from vision.telling.groups import unseen
from vision.telling.setting_up import setup_questions


def show() -> None:
    """The page of one set."""
    access = asking.access()
    set_id = parts.number_in_address("set")
    try:
        row = access.set(set_id or 0)
        member = access.person(row.person_id)
        report = access.report(row.id)
    except PlumbsetError as error:
        parts.heading("No such set")
        parts.said_wrong(error)
        return
    _top(row, member)
    card = access.card(row.person_id, row.exercise)
    parts.html(card_html(card))
    not_checked(card)
    newcomer.ask(access, member)
    pain.of_set(access, row)
    pain.stops(access, member)
    if report is None:
        _without_report(access, row, member)
        return
    playable = access.has_clip(row.id)
    left, right = st.columns([1.12, 1], gap="medium")
    with left, st.container(key="clipside"):
        _clip_side(access, row, report=report, playable=playable)
    with right:
        review_cards.show_all(access, row, report, playable)
        hand_over(access, row, member)


def _top(row: TrainingSet, member: Person) -> None:
    what = [
        title_of(row.exercise),
        load_words(row.load, row.unit),
        day_words(row.done_on, parts.today_utc().date()),
    ]
    if row.feeling:
        what.append(f"felt: {FEELINGS[row.feeling].lower()}")
    if row.side:
        what.append(f"{row.side} side")
    if member.beginner:
        what.append("new to the room")
    if row.reviewed_at is not None:
        what.append("handed over")
    parts.heading(member.name, " · ".join(what))


def _without_report(access: Access, row: TrainingSet, member: Person) -> None:
    if row.status == "checking":
        st.info("This set is still being checked; the clip and its prompts appear here when that is done.")
        progress(access, row.id)
        return
    if row.status == "failed":
        st.error(parts.plain(row.message))
        if st.button("Have it checked again"):
            access.try_again(row.id)
            st.rerun()
    hand_over(access, row, member)


@st.fragment(run_every=1.0)
def progress(access: Access, set_id: int) -> None:
    """How far the check has come; the page is shown anew when it is over."""
    job = access.job(set_id)
    if job is None or job.state not in ("queued", "running"):
        st.rerun()
    st.progress(min(1.0, job.progress), text=parts.plain(job.step))


def _clip_side(access: Access, row: TrainingSet, report: SetReport, playable: bool) -> None:
    said = access.said(row.id)
    added = [s.time_s for s in said.values() if s.kind == "added" and s.time_s is not None]
    src = f"{CLIP}/{row.id}" if playable else ""
    moment = clip.clip(strip(report, src, added, marking=playable), key=f"clip-{row.id}")
    if moment is not None:
        st.session_state[f"moment-{row.id}"] = moment
    at = st.session_state.get(f"moment-{row.id}")
    if at is not None:
        _add_moment(access, row.id, at)
    if questions := setup_questions(report, exercise_of(row.exercise)):
        st.markdown("**Set-up, to ask first**")
        st.markdown("\n".join(f"- {parts.plain(question)}" for question in questions))
    parts.html(
        f"<p><b>{escape(headline(report))}.</b> {escape(report.tempo.sentence if report.tempo else '')}</p>"
        + "".join(f'<p class="pl-quiet">{escape(n)}</p>' for n in _notes(report))
    )
    if playable:
        marking.show(access, row, report.clip)
    with st.expander("Keyboard, hand-out, and the whole report"):
        st.markdown(
            "**K** or space play and pause · **J**, **L** repetition before and after · **F** next flag · "
            "**S** half speed · **,** **.** one frame · **M** add at this moment · "
            "**Y** agree, **E** reword, **X** no fault (the first open prompt) · **H** hand over"
        )
        if handout := access.picture(row.id, HANDOUT):
            st.download_button("Hand-out as a picture for a phone", handout, f"set-{row.id}.png", "image/png")
        if access.has_page(row.id):
            st.download_button(
                "Whole report as one page", lambda: access.report_page(row.id) or b"", f"set-{row.id}.html",
                "text/html",
            )  # fmt: skip


def _notes(report: SetReport) -> list[str]:
    """What is to be read beside the clip: what is not as in the approved set first."""
    drifts = [drift.text for drift in report.reference.drifts] if report.reference else []
    return [*drifts, *report.notices, *unseen(report), *report.quality.notes]


def _add_moment(access: Access, set_id: int, at: float) -> None:
    with st.form(f"add-{set_id}", border=True):
        words = st.text_area(
            f"What the member should read about {at:.1f} s", max_chars=600, key=f"added-words-{set_id}",
            placeholder="Say one thing, such as: left foot slid off the plate.",
        )  # fmt: skip
        with st.container(horizontal=True):
            add = st.form_submit_button("Add it", type="primary")
            leave = st.form_submit_button("Leave it")
    try:
        if add:
            access.add_moment(set_id, at, words)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    if add or leave:
        del st.session_state[f"moment-{set_id}"]
        st.rerun()


def hand_over(access: Access, row: TrainingSet, member: Person) -> None:
    """The note that goes with the result, what the member will read, and handing it over."""
    said = access.said(row.id)
    kept = said[told.NOTE].words if told.NOTE in said else ""
    note = st.text_area(
        f"Note to {parts.plain(member.name)}", kept, max_chars=600, key=f"note-{row.id}",
        placeholder="Goes above the prompts. May stay empty.",
    )  # fmt: skip
    prompts = told.decided_prompts(access.report(row.id), said)
    with st.expander(f"What {parts.plain(member.name)} will read", expanded=False):
        review_cards.as_member_reads(prompts, note)
        st.caption("Your own words, and of the tool's prompts the most worrying: two in all at most.")
    done = row.reviewed_at is not None
    if st.button(
        f"Hand over {'anew ' if done else ''}to {parts.plain(member.name)}",
        type="primary", shortcut="h", width="stretch",
    ):  # fmt: skip
        try:
            if note != kept:
                access.decide(row.id, [told.NOTE], "note", note)
            access.release(row.id)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.switch_page(st.session_state["pages"]["waiting"])
    if done and row.status == "checked":
        _reference(access, row, member)


def _reference(access: Access, row: TrainingSet, member: Person) -> None:
    name, approved = parts.plain(member.name), access.reference(row.person_id, row.exercise)
    if approved == row.id:
        st.caption(f"{name}'s approved set on this machine: later sets are compared with it.")
        return
    if approved is None:
        st.caption(f"{name} has no approved set on this machine yet. Shall this be it?")
    if st.button(f"Approve it: compare {name}'s later sets with this one", width="stretch"):
        access.make_reference(row.id)
        st.rerun()
