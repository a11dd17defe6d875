"""Tempo: one set repetition by repetition, and a machine over the weeks."""

from __future__ import annotations

from collections import Counter
from statistics import median

import streamlit as st
from markupsafe import escape

from app.page.load_words import ALWAYS_ASK, BEFORE_MORE, for_member, for_trainer, said_words
from app.page.namesakes import told_apart
from app.page.tempo import SetTempo, against_usual, band, in_order, over_weeks, phase_rows, set_tempo
from app.page.timeline import loop
from app.page.weeks import weeks_drawing
from app.rules.words import day_words, exercise_of, load_words, tempo_words, title_of
from app.store.access import Access
from app.views import asking, clip, pain, parts
from shared.errors import PlumbsetError
from shared.exercise import Motion, Tempo
from shared.report import SetReport
from vision.measuring.reps.tempo import MODERATE_S
from vision.telling.charts import TempoBar, tempo_bars

MOST = 24
_KEY = (
    '<p class="pl-key"><span><i class="sw lift"></i>lift</span><span><i class="sw hold"></i>hold</span>'
    '<span><i class="sw lower"></i>lower</span><span><i class="sw rest"></i>rest, cut where long</span></p>'
)


def show() -> None:
    """Whose, which machine, the weeks, one set."""
    access = asking.access()
    parts.heading("Tempo", "How long a rep takes, and how even they are: in one set and over the weeks.")
    person_id = _whose(access)
    if person_id is None:
        return
    if pain.stops(access, access.person(person_id)) and not access.actor.is_trainer:
        return
    sets = access.sets(person_id)
    machines = [name for name, _ in Counter(s.exercise for s in sets if s.status == "checked").most_common()]
    if not machines:
        st.info("No judged set yet.")
        return
    name = st.selectbox("Machine", machines, format_func=title_of, key=f"tempo-machine-{person_id}")
    rows = [s for s in sets if s.exercise == name and s.status == "checked"][:MOST]
    reports, room = access.reports([r.id for r in rows]), access.room()
    tempos = [
        t
        for r in rows
        if (t := set_tempo(r.id, r.done_on, *room.load(r.load, r.unit), report=reports[r.id])) is not None
    ]
    if not tempos:
        st.info("No judged set yet.")
        return
    _weeks(tempos, name, access.actor.is_trainer, access.asked_tempo(person_id, name))
    _load(access, person_id, name)
    first, second = _two_sets(reports, tempos)
    if access.actor.is_trainer and first is not None and second is not None:
        _in_step(access, (first, second), reports)


def _whose(access: Access) -> int | None:
    if not access.actor.is_trainer:
        return access.actor.id
    members = access.members()
    apart = told_apart(members, parts.today())
    names = {m.id: apart[m.id] for m in members if m.sets}
    asked = parts.number_in_address("person")
    start = list(names).index(asked) if asked in names else None
    return st.selectbox(
        "Member", list(names), index=start, format_func=lambda i: names[i], placeholder="Choose a member"
    )


def _weeks(tempos: list[SetTempo], name: str, trainer: bool, wanted: Tempo | None) -> None:
    exercise = exercise_of(name)
    motion = exercise.motion if exercise is not None else Motion()
    said = over_weeks(tempos, motion, parts.today())
    flagged = trainer and any(t.flags for t in tempos)
    flags = f"<span>{parts.mark('flag')} something was flagged</span>" if flagged else ""
    asked = f"{MODERATE_S[0]:g} to {MODERATE_S[1]:g} s each way, a moderate pace"
    targets = (MODERATE_S, MODERATE_S)
    if wanted is not None:
        asked = f"asked: {tempo_words(wanted, exercise)}, give or take a quarter"
        targets = band(wanted.lift_s), band(wanted.lower_s)
    words = f"Seconds each way, range and load in {len(tempos)} sets; the numbers stand below"
    drawn = parts.drawing(weeks_drawing(tempos, trainer, targets), words, "weeks")
    parts.html(
        f'<p><b>{escape(said)}</b></p><div class="pl-tempo">{drawn}<p class="pl-key">'
        "<span>dot: a usual rep</span><span>bar: how far the others lie from it</span>"
        f'<span><i class="sw target"></i>{escape(asked)}</span>{flags}</p></div>'
    )
    with st.expander("The same in numbers"):
        more = ["Spread", "Range", "Flags"] if trainer else []
        rows = "".join(_row(t, trainer) for t in in_order(tempos)[::-1])
        names = "".join(f"<th>{h}</th>" for h in ["Day", "Load", "Lift", "Lower", "One rep", *more])
        parts.html(f'<div class="scroll"><table><tr>{names}</tr>{rows}</table></div>')


def _load(access: Access, person_id: int, name: str) -> None:
    """The question about the load on this machine, in the words of who reads it."""
    try:
        asked = next((a for a in access.load_questions(person_id) if a.exercise == name), None)
        said = access.said_load(person_id, name)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    if asked is None:
        return
    words = for_trainer(asked) if access.actor.is_trainer else for_member(asked)
    words = words if said is None else said_words(said, parts.today())
    words += f" {BEFORE_MORE if access.actor.is_trainer else ALWAYS_ASK}"
    parts.html(f"<p><b>Load.</b> {escape(words)}</p>")


def _row(one: SetTempo, trainer: bool) -> str:
    spread = "not known" if one.cv_percent is None else f"{one.cv_percent:.0f} %"
    cells = [
        one.day.isoformat(), load_words(one.load, one.unit), f"{median(one.lifts):.1f} s",
        f"{median(one.lowers):.1f} s", f"{one.usual:.1f} s",
        *([spread, f"{one.range_deg:.0f}°", str(one.flags)] if trainer else []),
    ]  # fmt: skip
    return "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in cells) + "</tr>"


def _two_sets(reports: dict[int, SetReport], tempos: list[SetTempo]) -> tuple[int | None, int | None]:
    """One set against the usual, and another one beside it where one is chosen."""
    today = parts.today()
    words = {t.set_id: f"{day_words(t.day, today)}, {load_words(t.load, t.unit)}" for t in tempos}
    left, right = st.columns(2)
    first = left.selectbox("One set", list(words), format_func=lambda i: words[i])
    second = right.selectbox(
        "Beside it", list(words), index=None, format_func=lambda i: words[i], placeholder="Another set"
    )
    by_id = {t.set_id: t for t in tempos}
    for column, set_id in ((left, first), (right, second)):
        if set_id is not None:
            with column:
                said = against_usual(by_id[set_id], tempos)
                parts.html(f"<p>{escape(said)}</p>{_bars(reports[set_id])}")
    if first is not None and second is not None:
        _differences(reports[first], reports[second])
    return first, second


def _differences(one: SetReport, other: SetReport) -> None:
    """What differs from phase to phase, by the usual repetition of each set."""
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>"
        for row in phase_rows(one, other)
    )
    names = "<tr><th>A usual rep</th><th>One set</th><th>Beside it</th><th>Difference</th></tr>"
    parts.html(f'<div class="scroll"><table>{names}{rows}</table></div>')


def _in_step(access: Access, sets: tuple[int, int], reports: dict[int, SetReport]) -> None:
    """The same repetition of both sets, side by side, started together; only where both have a clip."""
    if not all(access.has_clip(set_id) for set_id in sets):
        return
    both = [{r.number: r for r in reports[set_id].reps} for set_id in sets]
    shared = sorted(both[0].keys() & both[1].keys())
    if not shared:
        return
    number = st.select_slider("Repetition, both clips in step", shared) if len(shared) > 1 else shared[0]
    mine, other = (
        loop(reps[number], set_id, f"Repetition {number}, {word}", drawn=access.has_moving(set_id))
        for reps, set_id, word in zip(both, sets, ("the one set", "the set beside it"), strict=True)
    )
    clip.loops(mine, other, key=f"step-{sets[0]}-{sets[1]}")


def _bars(report: SetReport) -> str:
    bars = "".join(_bar(bar) for bar in tempo_bars(report.reps, report.findings))
    return f'<div class="pl-tempo">{_KEY}{bars}</div>'


def _bar(bar: TempoBar) -> str:
    shape = parts.mark(bar.verdict) if bar.verdict != "clear" else ""
    return (
        f'<div class="pl-bar"><span>{bar.number} {shape}</span>{parts.drawing(bar.drawing, bar.words, "bar")}'
        f"<span>{bar.seconds:.1f} s</span></div>"
    )
