"""When more load is a question, what each machine's stack holds, and the tempo asked of everybody."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape
from streamlit.delta_generator import DeltaGenerator

from app.rules.load_settings import RULES, Settings
from app.rules.room import WEIGHTS
from app.rules.stack import Stack
from app.rules.studio_file import NAME
from app.rules.words import title_of
from app.store.access import Access
from app.store.room import NewStack
from app.views import parts
from app.views.card import tempo_fields
from shared.errors import PlumbsetError
from shared.exercise import Motion

TEMPO = (
    "How many seconds up and how many down everybody should take. A member's card can ask for another tempo. "
    "Leave it empty to ask for none."
)
FILE = f"What you keep here counts before {NAME} in the data folder."
OWN_RULE = f"The rule of {NAME}"
RULE_WORDS = {
    "upper-end": "Two sets running at the upper end of the target",
    "two-for-two": "Two reps over it in the last set of two days running (two-for-two)",
}


def show(access: Access, may: bool) -> None:
    """The rule and the stacks; may: whether they can be changed."""
    try:
        settings = access.load_settings()
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    parts.html(f"<p>{escape(rule_words(settings))}</p>")
    _rule(access, settings, may)
    st.header("Stacks", divider=False)
    machines = access.room().machines
    rows = "".join(_row(name, settings.told_stack(name)) for name in machines)
    names = "".join(f"<th>{h}</th>" for h in ("Machine", "Lightest", "Step", "Add-on weight"))
    parts.html(f'<div class="scroll" tabindex="0"><table><tr>{names}</tr>{rows}</table></div>')
    st.caption(FILE)
    name = st.selectbox("Whose stack", machines, format_func=title_of, key="stack-machine", disabled=not may)
    if name:
        _stack(access, name, settings.told_stack(name), may)


def _rule(access: Access, settings: Settings, may: bool) -> None:
    now = next((name for name, rule in RULES.items() if rule == settings.rule), None)
    words: dict[str | None, str] = {name: RULE_WORDS[name] for name in RULES}
    words |= {None: OWN_RULE} if now is None else {}
    with st.form("load-rule"):
        rule = st.radio(
            "More load is a question after", list(words), list(words).index(now),
            format_func=lambda name: words[name], disabled=not may,
        )  # fmt: skip
        left, right = st.columns(2)
        low = left.number_input("Target reps from", 1, 100, settings.target_reps[0], disabled=not may)
        high = right.number_input("to", 1, 100, settings.target_reps[1], disabled=not may)
        keep = st.form_submit_button("Save the rule", type="primary", disabled=not may)
    if keep:
        try:
            access.save_load_rule(rule, int(low), int(high))
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.rerun()


def _stack(access: Access, name: str, stack: Stack | None, may: bool) -> None:
    """What is marked on one machine's plates."""
    unit = stack.unit if stack else access.room().weight
    with st.form(f"stack-{name}"):
        marked = st.radio("Marked in", WEIGHTS, WEIGHTS.index(unit), horizontal=True, disabled=not may)
        left, right = st.columns(2)
        start = _weight(left, "Lightest load: the top plate", stack.start if stack else None, may)
        step = _weight(right, "Step: each further plate", stack.step if stack else None, may)
        kept = stack.add_on if stack and stack.add_ons else None
        add_on = _weight(left, "Add-on weight (empty: none)", kept, may)
        pieces = max(1, stack.add_ons) if stack else 1
        add_ons = right.number_input("Add-on weights at hand", 1, 10, pieces, disabled=not may)
        keep = st.form_submit_button(
            f"Save the stack of {title_of(name).lower()}", type="primary", disabled=not may
        )
    back = name in access.own_stacks() and st.button("Back to what the file says", disabled=not may)
    if keep or back:
        try:
            access.save_stack(name, NewStack(marked, start, step, add_on, int(add_ons)) if keep else None)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.rerun()


def _weight(column: DeltaGenerator, label: str, value: float | None, may: bool) -> float | None:
    return column.number_input(label, 0.1, 200.0, value, step=0.5, format="%g", disabled=not may)


def tempo(access: Access) -> None:
    """The tempo that is asked of everybody, where no card says otherwise."""
    with st.form("studio-tempo"):
        given = tempo_fields(access.studio_tempo(), Motion(), TEMPO)
        keep = st.form_submit_button("Save the tempo", type="primary")
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
