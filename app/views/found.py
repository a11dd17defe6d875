"""What the trainers' reviews say of the tool: by check, found and right or missed, over the last weeks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

import streamlit as st
from markupsafe import escape

from app.rules.cases import OUTCOMES, CaseOutcome, Tally, by_check, by_week, found_words
from app.rules.words import date_words, day_words, exercise_of, title_of
from app.store.access import Access
from app.store.cases import MissedLine
from app.views import parts
from shared.errors import PlumbsetError
from vision.telling.words import counted

SPANS = {"4 weeks": 4, "8 weeks": 8, "Half a year": 26, "A year": 52}
HEADS: dict[CaseOutcome, str] = {
    "right": "Found and right", "wrong": "Flagged, no fault", "watched": "Only on watch", "missed": "Missed",
}  # fmt: skip
NONE_YET = (
    "No review in these weeks: agree, reword, call it no fault or add what was missed, and it counts here."
)
EXPORT = (
    "Every review is a test: who runs the studio's machine can write them all out as numbers, without a "
    "name, a picture or a day, and see what another version makes of them."
)
NOT_NAMED = "Not named yet, or none of them"


def show(access: Access) -> None:
    """The weeks that count, a row a check, a row a week, and what was missed with the check to be named."""
    span = st.segmented_control("Over the last", list(SPANS), default="8 weeks", key="found-span")
    today = parts.today()
    monday = today - timedelta(days=today.weekday())
    since = monday - timedelta(weeks=SPANS[span or "8 weeks"] - 1)
    found, counts, missed = access.found(since), access.counts(since), access.added(since)
    if not (found or counts.corrected or missed):
        st.caption(NONE_YET)
    else:
        right = (
            f"{counted(counts.sets, 'set')} looked at, {counts.corrected} of them counted otherwise by hand."
        )
        parts.html(f"<p><b>{escape(found_words(by_check(found)))}</b> {escape(right)}</p>")
    if found:
        parts.html(_table(("Machine", "Check"), [(_names(t), t) for t in by_check(found)]))
        weeks = [((f"Week of {date_words(date.fromisoformat(t.of[0]), today)}",), t) for t in by_week(found)]
        with st.expander("Week by week"):
            parts.html(_table(("Week",), weeks))
    if missed:
        st.markdown("**Added by hand: which check should have seen it?**")
    for line in missed:
        _name(access, line, today)
    st.caption(EXPORT)


def _table(first: tuple[str, ...], rows: Iterable[tuple[tuple[str, ...], Tally]]) -> str:
    heads = "".join(f"<th>{escape(head)}</th>" for head in (*first, *HEADS.values()))
    lines = "".join(
        "<tr>"
        + "".join(f"<td>{escape(name)}</td>" for name in names)
        + "".join(f'<td class="num">{tally[outcome] or "–"}</td>' for outcome in OUTCOMES)
        + "</tr>"
        for names, tally in rows
    )
    return f'<div class="scroll"><table><tr>{heads}</tr>{lines}</table></div>'


def _names(tally: Tally) -> tuple[str, str]:
    exercise, check = tally.of
    return title_of(exercise), _titles(exercise).get(check, check)


def _titles(exercise: str) -> dict[str, str]:
    known = exercise_of(exercise)
    return {spec.id: spec.title for spec in known.checks} if known else {}


def _name(access: Access, line: MissedLine, today: date) -> None:
    """One added moment; the choice is kept as it is made."""
    titles = {"": NOT_NAMED, **_titles(line.exercise)}
    where = f"{line.member}, {title_of(line.exercise)}, {day_words(line.done_on, today)}, {line.time_s:.1f} s"
    with st.container(border=True, key=f"missed-{line.set_id}-{line.finding.replace(':', '-')}"):
        parts.html(f'<p>“{escape(line.words)}”</p><p class="pl-quiet">{escape(where)}</p>')
        kept = line.check if line.check in titles else ""
        check = st.selectbox(
            "Check", list(titles), list(titles).index(kept), format_func=lambda c: titles[c],
            key=f"name-{line.set_id}-{line.finding}", label_visibility="collapsed",
        )  # fmt: skip
        if check != kept:
            try:
                access.name_missed(line.set_id, line.finding, check)
            except PlumbsetError as error:
                parts.said_wrong(error)
                return
            st.rerun()
