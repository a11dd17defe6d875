"""How often the trainer agrees with each check, and a limit that deserves a second look."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.rules.card_limit import CardLimit, as_for
from app.rules.words import exercise_of, title_of
from app.store.access import Access
from app.store.agreement import Agreement, proposed, suggestion
from app.store.cards import limit_of
from app.store.models import Person
from app.views import parts
from shared.errors import PlumbsetError
from shared.exercise import CheckSpec
from shared.faults import is_own_range
from shared.own_range import OWN_RANGE_TITLE
from vision.common.quantities import quantity

NONE_YET = "Nothing has been decided yet: agree, reword, or call it no fault, and it is counted here."
IN_THE_STUDIO = (
    "For one member, change it under Members. For everyone, ask whoever looks after Plumbset here to make it "
    "{bound}."
)
CAREFUL = "A wider limit means fewer warnings: use it only where you have watched this member yourself."


def show(access: Access, person: Person | None) -> None:
    """The studio's agreement, or one member's with the limit that could be theirs."""
    lines = access.agreement(person.id if person else None)
    if not lines:
        st.caption(NONE_YET)
    for line in lines:
        _suggest(access, person, line)
    if lines:
        head = "".join(f"<th>{h}</th>" for h in ("Machine", "Check", "Agreed", "Reworded", "No fault"))
        rows = "".join(_row(line) for line in lines)
        parts.html(f'<div class="scroll"><table><tr>{head}</tr>{rows}</table></div>')
    if person is not None:
        _own_limits(access, person)


def _row(line: Agreement) -> str:
    spec = _spec(line.exercise, line.check)
    title = spec.title if spec else OWN_RANGE_TITLE if is_own_range(line.check) else line.check
    cells = (title_of(line.exercise), title, line.agreed, line.reworded, line.dismissed)
    return "<tr>" + "".join(f"<td>{escape(str(c))}</td>" for c in cells) + "</tr>"


def _spec(exercise: str, check: str, limit: CardLimit | None = None) -> CheckSpec | None:
    """The check, as the number on the member's card leaves it; None where there is no such check."""
    known = exercise_of(exercise)
    known = as_for(known, limit) if known and limit else known
    return next((c for c in known.checks if c.id == check), None) if known else None


def bound_words(bound: dict[str, float], spec: CheckSpec) -> str:
    """``at most 180 degrees``."""
    side, value = next(iter(bound.items()))
    return f"{side.replace('_', ' ')} {quantity(value, spec.unit)}"


def _suggest(access: Access, person: Person | None, line: Agreement) -> None:
    limit = limit_of(access.card(person.id, line.exercise)) if person else None
    spec = _spec(line.exercise, line.check, limit)
    said = suggestion(line, spec)
    if not said or spec is None:
        return
    bound = proposed(line, spec)
    with st.container(border=True, key=f"card-agree-{line.exercise}-{line.check}"):
        st.markdown(f"**{title_of(line.exercise)}, {spec.title.lower()}.** {parts.plain(said)}")
        if bound is None:
            return
        if person is None:
            st.caption(IN_THE_STUDIO.format(bound=bound_words(bound, spec)))
            return
        st.caption(CAREFUL)
        name = f"Use {bound_words(bound, spec)} for {parts.plain(person.name)}"
        if st.button(name, key=f"limit-{line.exercise}-{line.check}"):
            _use(access, person, exercise=line.exercise, check=line.check, bound=bound)


def _own_limits(access: Access, person: Person) -> None:
    """The limits that are the member's own by now, each with the way back."""
    for exercise, limits in access.own_limits(person.id).items():
        for check, bound in limits.items():
            spec = _spec(exercise, check)
            if spec is None:
                continue
            words = (
                f"{title_of(exercise)}, {spec.title.lower()}: {bound_words(bound, spec)}, their own limit."
            )
            with st.container(horizontal=True, vertical_alignment="center"):
                st.markdown(words)
                if st.button("Back to the usual limit", key=f"usual-{exercise}-{check}"):
                    _use(access, person, exercise=exercise, check=check, bound=None)


def _use(access: Access, person: Person, exercise: str, check: str, bound: dict[str, float] | None) -> None:
    try:
        access.use_limit(person.id, exercise, check, bound)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()
