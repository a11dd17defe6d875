"""A settings card: as everyone reads it, and the form in which a trainer keeps it."""

from __future__ import annotations

from typing import Any

import streamlit as st
from markupsafe import escape

from app.page.card_words import asked_settings, kept_on, steps_for
from app.page.sheet import sheet_pdf
from app.page.tag_sheets import tags_pdf
from app.page.wall_card import card_pdf
from app.rules.card_limit import number_in_words, phrases
from app.rules.room import Room
from app.rules.words import exercise_of, title_of
from app.store.access import Access
from app.store.cards import limit_of
from app.store.models import Card, Person
from app.store.queries import tempo_of
from app.store.rules import LOAD_HIGH, UNITS
from app.views import parts
from shared.errors import PlumbsetError
from shared.exercise import Exercise, Motion, Tempo
from shared.own_range import SIDES, limb

NOT_CHECKED = "These words name degrees that no check knows of: put the number in its field as well."
NOT_KEPT = "Save the card before you choose another machine: what is only typed is lost."
TEMPO = "Tempo asked here, in seconds; empty: the studio's, if it asks one."


def card_html(card: Card, room: Room, tempo: Tempo | None = None) -> str:
    """The member's settings of one machine and the tempo asked, in a line or two; empty without."""
    said = " · ".join(f"{word}: <b>{escape(value)}</b>" for word, value in kept_on(card, room, tempo))
    return f'<p class="pl-note">{said}</p>' if said else ""


def not_checked(card: Card) -> None:
    """Say to a trainer where a limit in words names degrees and no number is kept."""
    if number_in_words(card.limits) and not limit_of(card).bounds():
        st.warning(NOT_CHECKED)


def show(access: Access, person: Person) -> None:
    """The trainer's form for one machine, and the sheet."""
    name = st.selectbox("Machine", access.room().machines, format_func=title_of, key=f"machine-{person.id}")
    st.caption(NOT_KEPT)
    card, exercise = access.card(person.id, name), exercise_of(name)
    if exercise is not None:
        with st.expander("How it is set up"):
            parts.html(parts.steps_html(exercise, steps_for(card, exercise)))
            st.download_button(
                "Card for the wall as PDF",
                lambda: card_pdf(exercise),
                f"{name}.pdf",
                "application/pdf",
                on_click="ignore",
            )
            if exercise.tag_number is not None:
                st.download_button(
                    "Printed tags as PDF",
                    lambda: tags_pdf(exercise),
                    f"tags-{name}.pdf",
                    "application/pdf",
                    on_click="ignore",
                )
    above = st.empty()
    with st.form(f"card-{person.id}-{name}"):
        given = _settings(card, exercise)
        with st.expander("Limits and tempo", expanded=_limited(card)):
            given |= _few_need(card, exercise)
        if exercise is not None and exercise.needs_clearance:
            given["cleared"] = st.checkbox(f"Cleared for {exercise.title.lower()}", card.cleared)
        keep = st.form_submit_button("Save the card", type="primary")
    if keep:
        _keep(access, person.id, name, given)
    else:
        with above:
            not_checked(card)
    st.download_button(
        "Sheet as PDF", lambda: sheet_pdf(access, person), f"sheet-{person.id}.pdf", "application/pdf",
        on_click="ignore",
        help="One page in large type: settings, last sets, and the prompts you handed over.",
    )  # fmt: skip


def _settings(card: Card, exercise: Exercise | None) -> dict[str, Any]:
    """The parts that this machine has, and the usual load."""
    columns, given = st.columns(2), {}
    for i, (key, word) in enumerate(asked_settings(card, exercise).items()):
        given[key] = columns[i % 2].text_input(word, getattr(card, key), max_chars=80)
    left, right = st.columns(2)
    load = left.number_input("Usual load", 0.0, LOAD_HIGH, card.usual_load, step=2.5, format="%g")
    unit = UNITS.index(card.unit) if card.unit in UNITS else 0
    return {**given, "usual_load": load, "unit": right.selectbox("Unit", UNITS, index=unit)}


def _limited(card: Card) -> bool:
    """Whether a limit or a tempo is kept on a card."""
    return bool(card.limits or limit_of(card).bounds() or tempo_of(card))


def _few_need(card: Card, exercise: Exercise | None) -> dict[str, Any]:
    """Tempo, and limits in degrees and in words."""
    given: dict[str, Any] = {}
    if exercise is not None:
        given |= tempo_fields(card, exercise.motion, TEMPO) | _limits(card, exercise)
    given["limits"] = st.text_area(
        "Other limits in words, read by people and not checked", card.limits, max_chars=500,
        placeholder="Such as: no load after the clinic visit until Friday",
    )  # fmt: skip
    return given


def _limits(card: Card, exercise: Exercise) -> dict[str, Any]:
    """The limit from clinician or trainer in degrees: every check of the member goes by it."""
    asked = phrases(exercise)
    if not asked:
        return {}
    st.caption(
        "Limits from clinician or trainer, in degrees. A set is judged by those of the side it shows."
        + (" 180 is straight." if exercise.drive_joint else " 0 is straight ahead, 90 out to the side.")
    )
    given: dict[str, Any] = {}
    for side in SIDES:
        for column, (key, words) in zip(st.columns(len(asked)), asked.items(), strict=True):
            name, label = f"{side}_{key}", f"{side.capitalize()} {limb(exercise)} {words}"
            given[name] = column.number_input(label, 0.0, 200.0, getattr(card, name), step=5.0, format="%g")
    return given


def tempo_fields(kept: Card | Tempo | None, motion: Motion, words: str) -> dict[str, float | None]:
    """Two numbers, in the words of the machine's own ways."""
    st.caption(words)
    ways = {"lift_s": motion.lift, "lower_s": motion.lower}
    return {
        key: column.number_input(f"Seconds {way}", 0.5, 20.0, getattr(kept, key, None), step=0.5, format="%g")
        for column, (key, way) in zip(st.columns(2), ways.items(), strict=True)
    }


def _keep(access: Access, person_id: int, name: str, given: dict[str, Any]) -> None:
    try:
        access.save_card(person_id, name, **given)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.toast("Saved.")
    not_checked(access.card(person_id, name))
