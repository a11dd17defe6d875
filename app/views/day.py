"""A member's day, as the member and as the trainer see it: the circuit, and what to work on next."""

from __future__ import annotations

from datetime import date

import streamlit as st
from markupsafe import escape

from app.rules.circuit import REST_DAYS, Circuit, Station
from app.rules.next_work import Open, WorkLine, open_of
from app.rules.told import NOT_LOOKED_AT
from app.rules.words import day_words, title_of
from app.store.access import Access
from app.views import parts
from shared.errors import PlumbsetError
from vision.telling.words import counted

STATES = {
    "filmed": "Filmed today", "done": "Done today", "due": "Due today", "resting": "Resting",
    "ask": "Needs your trainer's word first", "stopped": "Not until the pain is cleared",
}  # fmt: skip
NOTHING_OPEN = (
    "Nothing to work on just now. Keep your rhythm, and stop just short of locking your knees or elbows, or "
    "sooner where your card has a limit."
)
#: What is open of a machine's newest set, what matters most first, for the member and for the trainer.
OPEN: dict[Open, tuple[str, str]] = {
    "pain": (
        "You had pain with your last {title}. Talk to your trainer before your next one.",
        "The last {title} was reported with pain. Talk about it before the next one.",
    ),
    "unread": (
        "Your last video of the {title} gave no result. Look under My sets for what to do.",
        "The last video of the {title} gave no result.",
    ),
    "waits": (
        "Your trainer has not looked at your last {title} yet: what to work on appears here once they have.",
        "The last {title} is not handed over yet.",
    ),
    "checking": ("Your last {title} is still being checked.", "The last {title} is still being checked."),
}
NOTE = (
    f"Leave {24 * REST_DAYS} hours before the same machine again. "
    "Your trainer's plan and how you feel come first."
)


def summary(day: Circuit) -> str:
    """``2 of 6 done, 3 due`` in words; where pain stops the member, nothing of what is due."""
    done = f"{day.count('filmed', 'done')} of {counted(len(day.stations), 'machine')} done today"
    return done if day.stop else f"{done}, {day.count('due')} due"


def show_circuit(access: Access, person_id: int, day: Circuit, today: date) -> None:
    """The machines in order; on each what can be done now."""
    if not day.stations:
        st.caption("No machine is in the circuit.")
        return
    st.caption(summary(day))
    first_due = next((s.exercise for s in day.stations if s.state == "due"), None)
    for number, station in enumerate(day.stations, 1):
        key = f"circ-{'next-' if station.exercise == first_due else ''}{station.exercise}"
        with st.container(border=True, key=key):
            actions = _actions(station, day.stop)
            words, *columns = st.columns([5] + [1] * len(actions), vertical_alignment="center")
            parts.html(station_html(number, station, today), words)
            for action, column in zip(actions, columns, strict=True):
                with column:
                    if action in ("Film", "Open"):
                        _lead_on(access, person_id, station=station, action=action)
                    else:
                        _mark(access, person_id, station=station, action=action, today=today)
    if not day.stop:
        st.caption(NOTE)


def station_html(number: int, station: Station, today: date) -> str:
    """One machine: its place, its name, its state as a shape and a word, and when it was last done."""
    done = station.state in ("filmed", "done")
    kind = "done" if done else "wait" if station.state == "due" else ""
    shape = "&#10003; " if done else ""
    last = "" if done or station.last is None else f"last {day_words(station.last, today)}"
    return (
        f'<div class="pl-row plain"><span class="who">{number}. {escape(title_of(station.exercise))}</span>'
        f'<span class="when">{escape(last)}</span>'
        f'<span class="what"><span class="pl-tag {kind}">{shape}{STATES[station.state]}</span></span></div>'
    )


def _actions(station: Station, stop: bool) -> list[str]:
    """What can be done on a machine now: nothing new while pain stops the member."""
    if station.state == "filmed":
        return ["Open"]
    if station.state == "done":
        return ["Undo"] if stop else ["Film", "Undo"]
    return [] if stop or station.state == "ask" else ["Film", "Done"]


def _lead_on(access: Access, person_id: int, station: Station, action: str) -> None:
    """A link to today's set of the machine, or to filming it."""
    pages, trainer = st.session_state["pages"], access.actor.is_trainer
    title = title_of(station.exercise)
    if action == "Open":
        page, query = pages["review" if trainer else "results"], {"set": str(station.set_id)}
    else:
        page, query = pages["film"], {"machine": station.exercise}
        query |= {"person": str(person_id)} if trainer else {}
    st.page_link(
        page, label=action, query_params=query, width="stretch", help=parts.plain(f"{action}: {title}")
    )


def _mark(access: Access, person_id: int, station: Station, action: str, today: date) -> None:
    """Tell that the machine was done without a clip, or take that back: asked first, so that a double tap
    on Done, whose second one falls on what took its place, does not.
    """
    undo, title = action == "Undo", title_of(station.exercise)
    key = f"{'undo' if undo else 'done'}-{person_id}-{station.exercise}"
    if undo:
        with st.popover(
            action, type="tertiary", help=parts.plain(f"{title}: take the tick back"), width="stretch"
        ):
            tapped = st.button("Not done after all", key=key)
    else:
        tapped = st.button(
            action, key=key, help=parts.plain(f"{title}: done without a clip"), width="stretch"
        )
    if tapped:
        try:
            access.mark_done(person_id, station.exercise, today, not undo)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.rerun()


def show_next(access: Access, person_id: int, today: date) -> None:
    """What to work on next where nothing stops the member; a trainer reads why each line stands there."""
    lines, trainer = access.next_work(person_id, today), access.actor.is_trainer
    if not lines:
        st.caption(_why_nothing(access, person_id, trainer))
    rows = "".join(line_html(line, trainer) for line in lines)
    if rows:
        parts.html(f'<ol class="pl-next">{rows}</ol>')


def _why_nothing(access: Access, person_id: int, trainer: bool) -> str:
    """Why there is no line: of what no trainer has looked at nothing is said."""
    newest = access.last_sets(person_id)
    if not newest:
        return "No set yet."
    found = ((open_of(s.status, s.pain, s.reviewed_at is not None), s.exercise) for s in newest)
    opens = [(what, exercise) for what, exercise in found if what is not None]
    if not opens:
        return NOTHING_OPEN
    what, exercise = min(opens, key=lambda one: list(OPEN).index(one[0]))
    return OPEN[what][trainer].format(title=title_of(exercise).lower())


def line_html(line: WorkLine, trainer: bool) -> str:
    """One line: the machine, the words, and below who has looked at it or why it stands here."""
    waits = () if line.looked_at else ("waits for you",)
    below = "; ".join((*line.why, *waits)) if trainer else ("" if line.looked_at else NOT_LOOKED_AT)
    why = f"<small>{escape(below)}</small>" if below else ""
    return f"<li><b>{escape(line.title)}</b><span>{escape(line.words)}</span>{why}</li>"
