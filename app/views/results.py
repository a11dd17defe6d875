"""A member's sets, and the result of one: first by the tool, then as the trainer handed it over."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st
from markupsafe import escape

from app.page.drawings import film_drawing
from app.page.entry import TOLD
from app.page.timeline import followed, told_reps, told_strip
from app.rules import told
from app.rules.inside_limit import not_checked
from app.rules.room import Room
from app.rules.states import PAIN_ALONE
from app.rules.told import Prompt, Told
from app.rules.words import FEELINGS, day_words, exercise_of, set_title, side_words
from app.store.access import Access
from app.store.models import TrainingSet
from app.views import asking, first, kept, older, pain, parts, second, send
from app.views.review import progress
from shared.errors import PlumbsetError
from shared.report import RepPart
from vision.telling.handout import ASK
from vision.telling.words import reps_words

FROM_CHECK = "From the check of your clip"
#: What was looked at, in full and among other sets; again: since then there was pain, or a second clip.
GLANCED = ("Your trainer looked at one rep", "One rep looked at")
LOOKED_AT = ("Looked at by your trainer", "Looked at")
AGAIN = ("Looked at before; your trainer will look again", "Looked at before")
STAYS = "You had pain with this set. That stays until your trainer clears it."


def show() -> None:
    """One set where the address names it, else all of them."""
    access = asking.access()
    set_id = parts.number_in_address("set")
    if set_id is None:
        _all(access)
        return
    try:
        row, result = access.set(set_id), access.told(set_id)
    except PlumbsetError as error:
        parts.heading("No such set")
        parts.said_wrong(error)
        return
    _one(access, row, result)


def _all(access: Access) -> None:
    rows, more = older.sets_shown(access, access.actor.id)
    parts.heading("My sets", "Newest first." if rows else "Nothing yet.")
    if not pain.stops(access, access.me()):
        first.offer(access)
    room, handed = access.room(), access.handed(access.actor.id)
    for row in rows:
        with st.container(border=True, key=f"mine-{row.id}"):
            called, words = escape(set_title(row.exercise, row.status)), _under(row, room)
            looked = tag(row, handed.get(row.id), brief=True)
            title, button = st.columns([3, 1], vertical_alignment="center")
            parts.html(
                f'<div class="pl-row plain"><span class="who">{called}</span>'
                f'<span class="when">{escape(words)}</span></div><p>{looked}</p>', title,
            )  # fmt: skip
            page = st.session_state["pages"]["results"]
            button.page_link(page, label="Open", query_params={"set": str(row.id)}, width="stretch")
    if more:
        older.offer(access.actor.id)
    st.caption(asking.kept_words())
    parts.sign_out()


def _under(row: TrainingSet, room: Room) -> str:
    """Load and day; where pain alone was told there is no load."""
    day = day_words(row.done_on, parts.today())
    return day if row.status == PAIN_ALONE else f"{room.load_words(row.load, row.unit)} · {day}"


def tag(row: TrainingSet, glanced: bool | None, brief: bool = False) -> str:
    """Whether the trainer has looked at a set, as a shape and a word.

    glanced: whether one repetition alone was looked at, None where the set was not handed over.
    """
    if row.status == "failed" and row.binned_at is None:
        return '<span class="pl-tag wait">Send it again</span>'
    if row.reviewed_at is not None:
        looked = GLANCED if glanced else LOOKED_AT
        return f'<span class="pl-tag done">&#10003; {looked[brief]}</span>'
    if row.status == "checking":
        return '<span class="pl-tag wait">Being checked</span>'
    if glanced is not None:
        return f'<span class="pl-tag wait">{AGAIN[brief]}</span>'
    return f'<span class="pl-tag wait">{"Not yet looked at" if brief else escape(told.NOT_LOOKED_AT)}</span>'


def _one(access: Access, row: TrainingSet, result: Told) -> None:
    parts.heading(set_title(row.exercise, row.status), _under(row, access.room()))
    kept.sent_before(access, row)
    pain.stops(access, access.person(row.person_id))
    if st.session_state.pop("pain-told", None) == row.id:
        parts.to_top()
    send.teller(row.id, result.state != "checking", f"{result.headline} · Plumbset")
    if result.state == "checking":
        progress(access, row.id)
        st.caption("You may put the phone away; the result waits for you here.")
        _after(access, row)
        parts.cautions(exercise_of(row.exercise))
        return
    _result(access, row, result)
    _after(access, row)
    second.offer(access, row)
    kept.offer(access, row)
    if not result.stop:
        parts.cautions(exercise_of(row.exercise))


def _result(access: Access, row: TrainingSet, result: Told) -> None:
    if result.notice:
        parts.html(f'<div class="pl-ask" role="alert">{escape(result.notice)}</div>')
    parts.html(f"<p>{tag(row, access.handed(row.person_id).get(row.id))}</p>")
    note = f'<p class="pl-note"><b>{escape(result.by)}:</b> {escape(result.note)}</p>' if result.note else ""
    if result.stop:
        parts.html(f"{note}<p>No cues until your trainer clears this.</p>")
        return
    parts.html(f"<p><b>{escape(result.headline)}.</b> {escape(result.praise)} {escape(result.tempo)}</p>")
    if result.state == "held":
        parts.html(f"<p>{told.HELD}</p>")
        return
    kept.from_before(row)
    _strip(access, row, result)
    parts.html(note)
    for problem in result.problems:
        st.warning(parts.plain(problem))
    if result.problems:
        _film_again(row)
    for number, prompt in enumerate(result.prompts):
        if number == 1:
            parts.html("<p><b>Once that feels easy, one more:</b></p>")
        with st.container(border=True, key=f"told-{number}"):
            parts.html(prompt_html(prompt, _picture(access, row, prompt), result))
    if result.count is not None and not result.prompts and not result.problems:
        words = result.nothing if result.state == "released" or result.praise else ASK
        parts.html(f"<p>{words}</p>" if words else "")


def _picture(access: Access, row: TrainingSet, prompt: Prompt) -> bytes | None:
    try:
        return access.picture(row.id, prompt.picture) if prompt.picture else None
    except PlumbsetError:
        return None


def prompt_html(prompt: Prompt, picture: bytes | None, result: Told) -> str:
    """One prompt in large type, with its picture, and whose words they are."""
    image = f'<img src="{parts.picture_address(picture)}" alt="{escape(prompt.title)}">' if picture else ""
    which = reps_words(list(prompt.reps)) if prompt.reps else ""
    if result.state != "released":
        whose = told.NOT_LOOKED_AT
    elif prompt.origin in ("reworded", "added"):
        whose = f"In {result.by}'s words"
    elif prompt.origin == "tool":
        whose = FROM_CHECK
    else:
        whose = f"{result.by} has looked at this"
    return (
        f'<div class="pl-card"><h2>{escape(prompt.title)}<small>{escape(which)}</small></h2>{image}'
        f'<p class="pl-say big">{escape(prompt.words)}</p><p class="pl-quiet">{escape(whose)}</p></div>'
    )


def _strip(access: Access, row: TrainingSet, result: Told) -> None:
    """The counted repetitions, those marked that a prompt speaks of."""
    report = access.reports([row.id]).get(row.id)
    if report is None or not report.quality.usable:
        return
    reps = followed(report)
    if not reps:
        return
    if access.has_told_clip(row.id):
        send.result(told_strip(report, f"{TOLD}/{row.id}", result), key=f"result-{row.id}")
    else:
        _strip_alone(reps, result)
    if (seen := side_words(report.quality.view)) and row.side is None:
        parts.html(
            f'<p class="pl-quiet">{seen} If that is not so, tell your trainer, who can put it right.</p>'
        )
    for words in not_checked(report):
        parts.html(f'<p class="pl-note">{escape(words)}</p>')


def _strip_alone(reps: Sequence[RepPart], result: Told) -> None:
    marked = told_reps(result)
    blocks = "".join(
        f'<li class="{"flag" if r.number in marked else "partial" if r.partial else ""}">{r.number}'
        f"{parts.mark('flag' if r.number in marked else 'clear')}</li>"
        for r in reps
    )
    parts.html(f'<ol class="pl-strip" aria-label="Repetitions">{blocks}</ol>')


def _film_again(row: TrainingSet) -> None:
    """Where the phone stands, drawn and in words, and the way to film the set again."""
    exercise = exercise_of(row.exercise)
    if exercise is None:
        return
    drawn = film_drawing(exercise, exercise.views[0].name)
    views = "".join(f"<p><b>From the {v.name}.</b> {escape(v.film)}</p>" for v in exercise.views)
    image = parts.drawing(drawn.svg, drawn.words, "film")
    parts.html(f"<p><b>Film it again like this</b></p>{image}{views}")
    with st.container(key="first"):
        film = st.session_state["pages"]["film"]
        st.page_link(film, label="**Film again**", query_params={"machine": row.exercise})


def _after(access: Access, row: TrainingSet) -> None:
    """How the set felt, and pain after it. Yes is told at once; No later takes nothing back.

    A set that could not be judged is asked for pain alone.
    """
    if row.status == PAIN_ALONE:
        return
    told_before, unfit = row.feeling is not None, row.status == "unfit"
    hurts = row.pain_after and access.pain(row.person_id).stops
    asks = not (told_before or unfit) or (hurts and not row.pain_where)
    title = "Did it hurt?" if unfit else "How it felt" if told_before else "How did it feel?"
    with st.expander(title, expanded=asks):
        feeling = None if unfit else _felt(row)
        answer = st.segmented_control(
            "Sharp or joint pain?", ["No", "Yes"], default=_answered(row, hurts), width="stretch",
            key=f"pain-{row.id}-{'open' if hurts else 'asked'}",
        )  # fmt: skip
        where = ""
        if answer == "Yes":
            where = st.text_input("Where?", max_chars=300, key=f"where-{row.id}")
        elif hurts:
            st.caption(STAYS)
        may = answer is not None and (feeling is not None or answer == "Yes")
        tell = st.button("Tell my trainer", key=f"tell-{row.id}", type="primary", disabled=not may)
    if tell or (answer == "Yes" and not hurts):
        try:
            access.after_set(row.id, feeling, answer == "Yes", where)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        if answer == "Yes":
            st.session_state["pain-told"] = row.id
        st.rerun()


def _felt(row: TrainingSet) -> str | None:
    return st.segmented_control(
        "The set felt", list(FEELINGS), default=row.feeling, format_func=lambda f: FEELINGS[f],
        key=f"feeling-{row.id}", width="stretch",
    )  # fmt: skip


def _answered(row: TrainingSet, hurts: bool) -> str | None:
    """What was answered before; once pain was cleared the question is asked anew."""
    if hurts:
        return "Yes"
    return None if row.feeling is None or row.pain_after else "No"
