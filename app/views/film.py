"""A member's way on the phone: pain today, the machine, how to film, send the clip."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.page import still
from app.page.drawings import film_drawing
from app.page.load_words import first_for_member
from app.page.theme import LARGEST_CLIP_MB
from app.rules.stack import IN_PINS, WITH_ADD_ON
from app.rules.words import title_of
from app.store.access import Access, NewSet
from app.store.models import Card, Person
from app.store.rules import UNITS
from app.views import asking, pain, parts
from app.views.card import card_html
from shared.errors import PlumbsetError
from shared.exercise import Exercise, exercise_names, find_exercise

CONSENT = (
    "I agree that my clip is checked on the studio's own computer and seen by my trainer. "
    "Nobody else is in the picture who has not agreed."
)
CONSENT_OF_MEMBER = (
    "{name} agrees that the clip is checked on the studio's own computer and seen by the trainer. "
    "Nobody else is in the picture who has not agreed."
)
WHAT_COUNTS = (
    "Muscles that burn or are tired are expected. Chest pain, dizziness, numbness or unusual breathlessness: "
    "answer Yes."
)
ALREADY_TOLD = "Your trainer has been told. Say where it hurts, if you like; only your trainer clears it."
KINDS = ["mp4", "mov", "m4v", "webm", "mkv", "avi", "3gp"]


def show() -> None:
    """The steps, one below the other."""
    access = asking.access()
    parts.heading(
        "Send a set" if access.actor.is_trainer else "Film a set", "One set, one clip, seen from one side."
    )
    person = _for_whom(access)
    if person is None:
        return
    stopped = pain.stops(access, person)
    if stopped and not _more_of_pain(access, person):
        return
    if not stopped and not _asked_for_pain(access, person):
        parts.cautions()
        return
    exercise = _machine(access, person)
    if exercise is not None:
        _send(access, person, exercise, stopped)


def _for_whom(access: Access) -> Person | None:
    if not access.actor.is_trainer:
        return access.me()
    members = access.members()
    if not members:
        parts.html("<p>Add a member first, on the page Members.</p>")
        return None
    names = {m.id: m.name for m in members}
    asked = parts.number_in_address("person")
    start = list(names).index(asked) if asked in names else None
    chosen = st.selectbox(
        "Whose set", list(names), index=start, format_func=lambda i: names[i], key="whose",
        placeholder="Choose a member",
    )  # fmt: skip
    return access.person(chosen) if chosen is not None else None


def _asked_for_pain(access: Access, person: Person) -> bool:
    """Whether the answer is no. A yes is told at once, so that no later answer can untell it."""
    answer = st.segmented_control("Sharp or joint pain today?", ["No", "Yes"], key="pain", width="stretch")
    st.caption(WHAT_COUNTS)
    if answer == "Yes":
        _tell(access, person)
    return answer == "No"


def _more_of_pain(access: Access, person: Person) -> bool:
    """Where it hurts; True where a set that was already filmed is to be sent with the pain."""
    if not access.actor.is_trainer:
        st.caption(ALREADY_TOLD)
    where = st.text_input("Where does it hurt?", max_chars=300, key="where")
    machine = st.selectbox(
        "On which machine, if on one", exercise_names(), index=None, format_func=title_of,
        placeholder="May stay empty",
    )  # fmt: skip
    if st.button("Tell my trainer now", type="primary", width="stretch"):
        _tell(access, person, where, machine or "")
    return st.toggle("I have already filmed a set today")


def _tell(access: Access, person: Person, where: str = "", machine: str = "") -> None:
    try:
        access.tell_pain(person.id, where, machine)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    for key in ("pain", "where"):
        st.session_state.pop(key, None)
    st.rerun()


def _machine(access: Access, person: Person) -> Exercise | None:
    asked = st.query_params.get("machine")
    start = exercise_names().index(asked) if asked in exercise_names() else None
    name = st.selectbox(
        "Which machine", exercise_names(), index=start, format_func=title_of, key="machine",
        placeholder="Choose the machine",
    )  # fmt: skip
    if name is None:
        return None
    exercise = find_exercise(name)
    card = access.card(person.id, name)
    if exercise.needs_clearance and not card.cleared:
        st.warning(f"{exercise.title} needs your trainer's word first. Ask before you start.")
    tempo = access.asked_tempo(person.id, name)
    parts.html(f"{card_html(card, tempo)}{_first_load(access, person, card)}")
    with st.expander("Getting in and out", icon=":material/airline_seat_recline_normal:"):
        parts.html(parts.steps_html(exercise))
    with st.expander("How to film it", expanded=True, icon=":material/photo_camera:"):
        drawn = film_drawing(exercise, exercise.views[0].name)
        image = parts.drawing(drawn.svg, drawn.words, "film")
        for i, view in enumerate(exercise.views):
            parts.html(f"{'' if i else image}<p><b>From the {view.name}.</b> {escape(view.film)}</p>")
    _try_framing(name)
    parts.cautions(exercise)
    return exercise


def _try_framing(name: str) -> None:
    """A still first, where the member wants one: whether the phone stands well."""
    with st.expander("Try the picture first", icon=":material/center_focus_strong:"):
        still.stills().warm()
        photo = st.file_uploader(
            "A photo from where the phone will film", type=still.KINDS, key=f"photo-{name}",
            max_upload_size=still.LARGEST_MB,
        )  # fmt: skip
        if photo is None:
            st.caption("Sit on the machine and let someone take it. The photo is looked at and not kept.")
            return
        try:
            with st.spinner("Looking at the picture"):
                found = still.stills().look(photo.getvalue(), name)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        for sentence in found:
            st.warning(parts.plain(sentence))
        if not found:
            st.success("The framing will do.", icon=":material/check:")
        st.caption(still.ONE_MOMENT)


def _first_load(access: Access, person: Person, card: Card) -> str:
    """How light to begin, where the member has not sent a set on this machine and no load is kept."""
    if card.usual_load is not None or access.sets(person.id, card.exercise, most=1):
        return ""
    try:
        return f'<p class="pl-note">{escape(first_for_member(access.load_settings()))}</p>'
    except PlumbsetError:
        return ""  # the trainer reads what is wrong with the studio's file where the load is asked


def _send(access: Access, person: Person, exercise: Exercise, pain_told: bool) -> None:
    card = access.card(person.id, exercise.name)
    load, unit = st.columns([2, 1])
    in_unit = unit.selectbox("Unit", UNITS, index=UNITS.index(card.unit) if card.unit in UNITS else 0)
    step = WITH_ADD_ON if in_unit in IN_PINS else 2.5
    kilos = load.number_input(
        "Load", 0.0, 1000.0, card.usual_load, step=step, format="%g", placeholder="As on the pin"
    )
    side = st.segmented_control("Working side", ["Both", "Left", "Right"], default="Both", width="stretch")
    today = parts.today_utc().date()
    day = st.date_input("Done on", today, min_value=person.created_at.date(), max_value=today)
    clip = st.file_uploader(
        f"The clip, up to {LARGEST_CLIP_MB} MB", type=KINDS, key="clip-file", max_upload_size=LARGEST_CLIP_MB
    )
    own = person.id == access.actor.id
    asked = CONSENT if own else CONSENT_OF_MEMBER.format(name=parts.plain(person.name))
    agreed = person.consent_at is not None or st.checkbox(asked)
    st.caption(asking.kept_words())
    if not st.button("Send the clip", type="primary", width="stretch", disabled=clip is None or not agreed):
        return
    told = NewSet(
        person.id, exercise.name, done_on=day, load=kilos, unit=in_unit,
        side=None if side in (None, "Both") else side.lower(),
        pain_before=pain_told,
    )  # fmt: skip
    try:
        access.consent(person.id)
        set_id, known = access.add_set(told, clip, clip.name if clip else "")
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.session_state["known"] = set_id if known else None
    _onward(access, set_id)


def _onward(access: Access, set_id: int) -> None:
    for key in ("pain", "where", "machine", "clip-file"):
        st.session_state.pop(key, None)
    page = "review" if access.actor.is_trainer else "results"
    st.switch_page(st.session_state["pages"][page], query_params={"set": str(set_id)})
