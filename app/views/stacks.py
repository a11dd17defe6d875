"""The studio's rule for more load and what each machine's stack holds, as the studio's file says."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.rules.load_settings import Settings
from app.rules.stack import Stack
from app.rules.studio_file import NAME
from app.rules.words import title_of
from app.store.access import Access
from app.views import parts
from app.views.card import tempo_fields
from shared.errors import PlumbsetError
from shared.exercise import Motion, exercise_names

TEMPO = (
    "Seconds in which the load goes up, and in which it comes down, asked of everybody. A member's card may "
    "ask another tempo. Empty: none is asked."
)


def show(access: Access) -> None:
    """The rule in a sentence, a line for each machine, and where both are written."""
    try:
        settings = access.load_settings()
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    parts.html(f"<p>{escape(rule_words(settings))}</p>")
    rows = "".join(_row(name, settings.told_stack(name)) for name in exercise_names())
    names = "".join(f"<th>{h}</th>" for h in ("Machine", "Top plate", "Each further one", "Add-on weight"))
    parts.html(f'<div class="scroll"><table><tr>{names}</tr>{rows}</table></div>')
    st.caption(
        f"This stands in {NAME} in the data folder; how it is written stands in the manual, More load."
    )


def tempo(access: Access) -> None:
    """The tempo that is asked of everybody, where no card says otherwise."""
    with st.form("studio-tempo"):
        given = tempo_fields(access.studio_tempo(), Motion(), TEMPO)
        keep = st.form_submit_button("Keep the tempo", type="primary")
    if keep:
        try:
            access.ask_tempo(**given)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.toast("Kept: it is asked from the next set on.")


def rule_words(settings: Settings) -> str:
    """When more load is a question, and where the rule comes from."""
    rule = settings.rule
    often = "one set" if rule.times == 1 else f"{rule.times} sets running"
    last = "" if rule.per == "set" else ", the last of each day,"
    return (
        f"More load is a question after {often}{last} of {settings.goal} reps or more at one load, steady "
        f"and not hard ({rule.source.kind}: {rule.source.cite})."
    )


def _row(name: str, stack: Stack | None) -> str:
    told = ["not told", "", ""]
    if stack is not None:
        add_on = f"{stack.add_on:g} {stack.unit}" if stack.add_ons else "none"
        told = [f"{stack.start:g} {stack.unit}", f"{stack.step:g} {stack.unit}", add_on]
        told[2] += f", {stack.add_ons} at hand" if stack.add_ons > 1 else ""
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in (title_of(name), *told)) + "</tr>"
