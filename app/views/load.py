"""The question about the load on each machine of a member, and a trainer's answer in one tap."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial

import streamlit as st
from markupsafe import escape

from app.page.load_words import BEFORE_MORE, choice_words, said_words, with_days
from app.rules.load_answer import Choice, LoadWord, choices, stands
from app.rules.load_settings import Settings
from app.rules.progress import Advice, first_load
from app.rules.words import title_of
from app.store.access import Access
from app.store.models import Person
from app.views import parts
from shared.errors import PlumbsetError

#: The answer that the question speaks for, which stands out.
_SPEAKS_FOR: dict[str, Choice] = {"more-load": "up", "hold": "stay", "more-repetitions-first": "stay"}


def show(access: Access, person: Person) -> None:
    """The questions, the first loads on machines that are new, and where the rules come from."""
    if access.pain(person.id).stops:
        st.caption("Nothing while pain stops the member.")
        return
    try:
        asked, settings = access.load_questions(person.id), access.load_settings()
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    caution()
    said = access.load_answers(person.id)
    for advice in asked:
        with st.container(border=True, key=f"card-load-{advice.exercise}"):
            _one(access, person, advice=advice, settings=settings, said=said.get(advice.exercise))
    if not asked:
        st.caption("No judged set with its load yet.")
    _new(access, person, asked=asked, settings=settings)
    _sources(source for advice in asked for source in advice.sources)


def caution() -> None:
    """What comes before any load, short."""
    parts.html(f'<p class="pl-note" role="note">{escape(BEFORE_MORE)}</p>')


def _one(access: Access, person: Person, advice: Advice, settings: Settings, said: LoadWord | None) -> None:
    """One machine: the question with its answers, or the answer that stands.

    The key of a button names its load: a touch on what was there before a newer set answers nothing.
    """
    title = f"<p><b>{escape(title_of(advice.exercise))}</b></p>"
    if said is not None and stands(said, advice):
        words = escape(said_words(said, parts.today()))
        parts.html(f"{title}<p>{words} It stands on the settings card, and where the set is filmed.</p>")
        if st.button("Take it back", key=f"load-back-{person.id}-{advice.exercise}"):
            _kept(access.take_back_load, person.id, advice)
        return
    notes = "".join(f'<p class="pl-quiet">{escape(with_days(note))}</p>' for note in advice.notes)
    evidence = escape(with_days(advice.evidence))
    parts.html(f"{title}<p><b>{escape(with_days(advice.question))}</b></p><p>{evidence}</p>{notes}")
    with st.container(horizontal=True):
        for choice, load in choices(advice, settings).items():
            if st.button(
                choice_words(choice, load, advice.last.unit),
                key=f"load-{choice}-{person.id}-{advice.exercise}-{advice.last.set_id}-{load:g}",
                type="primary" if _SPEAKS_FOR.get(advice.answer) == choice else "secondary",
            ):  # fmt: skip
                _kept(partial(access.answer_load, choice=choice), person.id, advice)


def _kept(change: Callable[..., None], person_id: int, advice: Advice) -> None:
    """Keep what a trainer said of one machine, and show it."""
    try:
        change(person_id, advice.exercise, set_id=advice.last.set_id)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()


def _new(access: Access, person: Person, asked: list[Advice], settings: Settings) -> None:
    """How light to begin on the machines that the member has not done yet."""
    named = {advice.exercise for advice in asked}
    circuit = access.circuit(person.id, parts.today())
    for name in (s.exercise for s in circuit.stations if s.last is None and s.exercise not in named):
        parts.html(
            f'<p class="pl-quiet"><b>{escape(title_of(name))}.</b> {escape(first_load(name, settings))}</p>'
        )


def _sources(sources: Iterable[str]) -> None:
    """Each source once, folded away."""
    listed = "".join(f"<li>{escape(source)}.</li>" for source in dict.fromkeys(sources))
    if listed:
        with st.expander("Where this comes from"):
            parts.html(f"<ul>{listed}</ul>")
