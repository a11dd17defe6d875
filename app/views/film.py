"""A member's way on the phone: pain today, the machine, how to film, send the clip."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st
from markupsafe import escape

from app.page import still
from app.page.card_words import steps_for
from app.page.drawings import film_drawing, posture_drawing
from app.page.load_words import FIRST_TIME, next_load
from app.page.namesakes import told_apart
from app.rules.load_answer import LoadWord
from app.rules.stack import IN_PINS, WITH_ADD_ON
from app.rules.words import title_of
from app.store.access import Access
from app.store.base import day_of
from app.store.models import Card, Person
from app.store.rules import LOAD_HIGH, UNITS, sound_load
from app.views import asking, pain, parts, send
from app.views.card import card_html
from shared.errors import PlumbsetError
from shared.exercise import Exercise, find_exercise

CONSENT = (
    "I agree that my clip is checked on the studio's own computer and seen by my trainer. "
    "Anyone else in the picture has agreed too."
)
CONSENT_OF_MEMBER = (
    "{name} agrees that the clip is checked on the studio's own computer and seen by the trainer. "
    "Anyone else in the picture has agreed too."
)
WHAT_COUNTS = (
    "Muscles that burn or are tired are expected. Chest pain, dizziness, numbness or unusual breathlessness: "
    "answer Yes."
)
#: Names of what is answered about pain; the person's number follows, lest it be taken for somebody else's.
ANSWERS = ("hurts-today-", "hurts-where-", "hurts-on-", "filmed-today-")


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
        _help(access.card(person.id, exercise.name), exercise)


def _for_whom(access: Access) -> Person | None:
    if not access.actor.is_trainer:
        return access.me()
    members = access.members()
    if not members:
        parts.html("<p>A set is a member's: add one first.</p>")
        with st.container(horizontal=True, key="first"):
            st.page_link(st.session_state["pages"]["members"], label="**Add a member**")
        return None
    names = told_apart(members, parts.today())
    asked = parts.number_in_address("person")
    start = list(names).index(asked) if asked in names else None
    chosen = st.selectbox(
        "Whose set", list(names), index=start, format_func=lambda i: names[i], key="whose",
        placeholder="Choose a member",
    )  # fmt: skip
    return access.person(chosen) if chosen is not None else None


def _asked_for_pain(access: Access, person: Person) -> bool:
    """Whether the answer is no. A yes is told at once, so that no later answer can untell it."""
    key = f"{ANSWERS[0]}{person.id}"
    answer = st.segmented_control(pain.QUESTION, ["No", "Yes"], key=key, width="stretch")
    if answer != "No":
        st.caption(WHAT_COUNTS)
    elif not access.denies_pain(person.id):
        access.deny_pain(person.id)
    if answer == "Yes":
        _tell(access, person)
    return answer == "No"


def _more_of_pain(access: Access, person: Person) -> bool:
    """Where it hurts; True where a set that was already filmed is to be sent with the pain."""
    told = access.pain(person.id).last  # with each telling the fields are new, and empty
    where = st.text_input(
        "Where does it hurt? (optional)", max_chars=300, key=f"{ANSWERS[1]}{person.id}-{told}"
    )
    machine = st.selectbox(
        "On which machine? (optional)", access.room().machines, index=None, format_func=title_of,
        placeholder="Choose a machine", key=f"{ANSWERS[2]}{person.id}-{told}",
    )  # fmt: skip
    if st.button("Add this", type="primary", width="stretch"):
        if where.strip() or machine:
            _tell(access, person, where, machine or "")
        else:
            st.info("Your pain is told already. Say where it hurts, or on which machine, to add that.")
    return st.toggle("I have already filmed a set today", key=f"{ANSWERS[3]}{person.id}")


def _tell(access: Access, person: Person, where: str = "", machine: str = "") -> None:
    try:
        access.tell_pain(person.id, where, machine)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    _forget_answers()
    st.rerun()


def _forget_answers() -> None:
    for key in [str(name) for name in st.session_state]:
        if key.startswith(ANSWERS):
            del st.session_state[key]


def _machine(access: Access, person: Person) -> Exercise | None:
    """The chosen machine with its card, else the tiles to choose from."""
    name, room = st.query_params.get("machine"), access.room()
    if name not in room.machines:
        _tiles(room.machines)
        return None
    exercise = find_exercise(name)
    with st.container(horizontal=True, vertical_alignment="center", key="chosen", gap="small"):
        st.header(exercise.title, divider=False, width="stretch")
        other = st.button("Another machine")
    if other:
        del st.query_params["machine"]
        st.rerun()
    card = access.card(person.id, name)
    if exercise.needs_clearance and not card.cleared:
        st.warning(f"{exercise.title} needs your trainer's word first. Ask before you start.")
    tempo = access.asked_tempo(person.id, name)
    parts.html(f"{card_html(card, room, tempo)}{_next_load(access, person, card)}")
    return exercise


def _tiles(machines: Sequence[str]) -> None:
    """Every machine of the room as a tile with its drawing."""
    st.markdown("**Which machine**")
    with st.container(horizontal=True, key="tiles", gap="small"):
        for name in machines:
            exercise = find_exercise(name)
            with st.container(key=f"tile-{name}", border=True):
                drawn = posture_drawing(exercise)
                parts.html(str(parts.drawing(drawn, "", "tile")) if drawn else "")
                if st.button(exercise.title, key=f"machine-{name}", width="stretch"):
                    st.query_params["machine"] = name
                    st.rerun()


def _help(card: Card, exercise: Exercise) -> None:
    """What there is to read before filming, each a touch away."""
    with st.container(gap="xsmall"):
        _help_closed(card, exercise)
    parts.cautions(exercise)


def _help_closed(card: Card, exercise: Exercise) -> None:
    with st.expander("How to film it", icon=":material/photo_camera:"):
        drawn = film_drawing(exercise, exercise.views[0].name)
        image = parts.drawing(drawn.svg, drawn.words, "film")
        for i, view in enumerate(exercise.views):
            parts.html(f"{'' if i else image}<p><b>From the {view.name}.</b> {escape(view.film)}</p>")
    with st.expander("Getting in and out", icon=":material/airline_seat_recline_normal:"):
        parts.html(parts.steps_html(exercise, steps_for(card, exercise)))
    _try_framing(exercise.name)


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


def _next_load(access: Access, person: Person, card: Card) -> str:
    """The load that the trainer said, or how light to begin where nothing was sent and no load is kept."""
    said = _said_load(access, person, card.exercise)
    if said is not None:
        return f'<p class="pl-note">{escape(next_load(said, parts.today()))}</p>'
    if card.usual_load is not None or access.sets(person.id, card.exercise, most=1):
        return ""
    return f'<p class="pl-note">{escape(FIRST_TIME)}</p>'


def _said_load(access: Access, person: Person, exercise: str) -> LoadWord | None:
    """The load that a trainer said for the next set; none where the studio's file cannot be read."""
    try:
        return access.said_load(person.id, exercise)
    except PlumbsetError:
        return None


def _send(access: Access, person: Person, exercise: Exercise, pain_told: bool) -> None:
    """What is told with the set, and the ways to its clip."""
    own = person.id == access.actor.id
    told = _told(access, person, exercise) | {"pain_before": pain_told}
    asked = CONSENT if own else CONSENT_OF_MEMBER.format(name=parts.plain(person.name))
    agreed = person.consent_at is not None or st.checkbox(asked, key=f"agrees-{person.id}")
    drawn = exercise.drawing
    send.sender(
        access.actor,
        {
            "told": told | {"agreed": agreed},
            "agreed": agreed,
            "title": exercise.title if own else f"{exercise.title}, {person.name}",
            "outline": None if drawn is None else drawn.model_dump(mode="json"),
            "where": f"{exercise.views[0].film.split('. ')[0].rstrip('.')}.",
            "kept": asking.kept_words(),
            "filmed": False,
        },
        key="sender",
    )


def _told(access: Access, person: Person, exercise: Exercise) -> dict[str, Any]:
    """Load and day, as ``app.page.sending.ToldWithClip`` takes them; the side is found from the clip."""
    name, today = exercise.name, parts.today()
    unit, start = _usual(access, person, name)
    row = st.container(horizontal=True, vertical_alignment="bottom")
    load, more = row.container(), row.popover("Unit, day")
    with more:
        in_unit = st.selectbox("Unit", UNITS, index=UNITS.index(unit), key=f"unit-{person.id}-{name}")
        day = st.date_input(
            "Done on", today, min_value=day_of(person.created_at), max_value=today, key=f"day-{person.id}"
        )
    kilos = load.number_input(
        f"Load in {in_unit}" if in_unit in ("kg", "lb") else f"Load ({in_unit})", 0.0, LOAD_HIGH, start,
        step=WITH_ADD_ON if in_unit in IN_PINS else 2.5, format="%g", placeholder="As on the pin",
        key=f"load-{person.id}-{name}",
    )  # fmt: skip
    try:
        sound_load(kilos, in_unit)
    except PlumbsetError as error:
        parts.said_wrong(error)
    if last := _last_load(access, person, name):
        parts.html(f'<p class="pl-quiet">Last time {escape(access.room().load_words(*last))}.</p>')
    return {
        "person": person.id, "exercise": name, "done_on": day.isoformat(), "load": kilos, "unit": in_unit,
    }  # fmt: skip


def _usual(access: Access, person: Person, exercise: str) -> tuple[str, float | None]:
    """Unit and load that the trainer said, else of the last set that told a load, else those of the card."""
    said = _said_load(access, person, exercise)
    if said is not None:
        return said.unit, said.load
    card = access.card(person.id, exercise)
    load, unit = _last_load(access, person, exercise) or (card.usual_load, card.unit)
    return unit if unit in UNITS else UNITS[0], load


def _last_load(access: Access, person: Person, exercise: str) -> tuple[float, str] | None:
    """Load and unit of the last set that told a load."""
    rows = access.sets(person.id, exercise, most=5)
    return next(((row.load, row.unit) for row in rows if row.load is not None), None)


def arrived(access: Access, sent: Mapping[str, Any]) -> None:
    """On to a set whose clip has just arrived."""
    _forget_answers()
    st.session_state["known"] = sent["number"] if sent.get("known") else None
    page = "review" if access.actor.is_trainer else "results"
    st.switch_page(st.session_state["pages"][page], query_params={"set": str(sent["number"])})
