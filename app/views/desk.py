"""What the desk of a review is given, and what becomes of what a trainer does there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import streamlit as st

from app.page.cards import added, cards, reads
from app.page.entry import CLIP, MOVING
from app.page.timeline import loop, strip
from app.rules import told
from app.rules.told import Said
from app.rules.words import exercise_of
from app.store.access import Access
from app.store.models import TrainingSet
from app.views import parts, recall
from shared.errors import PlumbsetError
from shared.report import RepPart, SetReport
from vision.telling.cues import best_rep

BEFORE = (
    "Before you hand over: ask about sharp or joint pain. A clinician's advice and local rules come before "
    "any prompt here; none of it is medical advice."
)
NOT_SENT = "Not sent yet: hand over again."


def desk_data(
    access: Access, row: TrainingSet, member: str, report: SetReport, said: Mapping[str, Said], asked: bool
) -> dict[str, Any]:
    """Everything the desk shows. asked: it is asked first whether this is another machine: no cards then."""
    playable, drawn = access.has_clip(row.id), access.has_moving(row.id)
    pictures, room = _pictures(access, row.id, report), access.room()
    made = [] if asked else cards(report, exercise_of(row.exercise), said, pictures, room)
    if playable:
        best = _best(access, row, report)
        for card in made:
            card["beside"] = _beside(card, row.id, report=report, best=best, drawn=drawn)
    marked = report.model_copy(update={"findings": []}) if asked else report
    return {
        **strip(marked, said), "src": f"{CLIP}/{row.id}" if playable else "",
        "moving": f"{MOVING}/{row.id}" if drawn else "", "cards": made, "member": member,
        "note": said[told.NOTE].words if told.NOTE in said else "", "added": added(said),
        "checks": _checks(row.exercise),
        "reads": [] if asked else reads(told.decided_prompts(report, said)),
        "caution": BEFORE, "unsent": NOT_SENT if access.is_unsent(row.id) else "",
        "bare": _bare(report, playable, asked), "releasable": not asked,
        "applied": st.session_state.get(f"applied-{row.id}", 0),
    }  # fmt: skip


def _bare(report: SetReport, playable: bool, asked: bool) -> str:
    """What is said where there is no card to decide."""
    if asked:
        return "Say first whether this is another machine."
    if not report.quality.usable:
        return "This clip could not be judged."
    if not playable:
        return "Nothing was flagged. There is no clip to watch."
    return "Nothing was flagged. Watch a repetition or two before you hand it over."


def _checks(exercise: str) -> list[list[str]]:
    """Id and title of each check of the machine, to be named as the one that missed something."""
    known = exercise_of(exercise)
    return [[spec.id, spec.title] for spec in known.checks] if known else []


def _pictures(access: Access, set_id: int, report: SetReport) -> dict[str, str]:
    """The pictures of flags and of what is to be watched, inside the page itself."""
    keys = {told.key_of(f) for f in report.findings if f.verdict in ("flag", "watch")}
    found = {key: picture for key in sorted(keys) if (picture := access.picture(set_id, key))}
    return {key: parts.picture_address(picture) for key, picture in found.items()}


def _beside(
    card: Mapping[str, Any], set_id: int, report: SetReport, best: dict[str, Any] | None, drawn: bool
) -> dict[str, Any] | None:
    """The card's clearest repetition beside their best."""
    lead = next((f["rep"] for f in card["findings"] if f["time"] == card["time"]), None)
    rep: RepPart | None = next((r for r in report.reps if r.number == lead), None)
    if rep is None or best is None:
        return None
    return {"mine": loop(rep, set_id, f"Repetition {rep.number}", drawn), "best": best}


def _best(access: Access, row: TrainingSet, report: SetReport) -> dict[str, Any] | None:
    """The best repetition of the member's reference, else of this very set."""
    reference = access.reference(row.person_id, row.exercise)
    other = access.report(reference) if reference not in (None, row.id) else None
    best = best_rep(other) if other else None
    if best is not None and reference is not None:
        words = f"Their best: repetition {best.number} of the reference"
        return loop(best, reference, words, access.has_moving(reference))
    best = best_rep(report)
    if best is None:
        return None
    words = f"Their best: repetition {best.number} of this set"
    return loop(best, row.id, words, access.has_moving(row.id))


def take(access: Access, row: TrainingSet, member: str, log: Sequence[Mapping[str, Any]]) -> None:
    """Keep what was done at the desk since the last time, each once; what fails is told on the page."""
    name = f"applied-{row.id}"
    fresh = [event for event in log if event["n"] > st.session_state.get(name, 0)]
    for event in fresh:
        st.session_state[name] = event["n"]
        try:
            _keep(access, row, member, event)
        except PlumbsetError as error:
            st.session_state[f"wrong-{row.id}"] = str(error)
    if fresh:
        st.rerun()


def _keep(access: Access, row: TrainingSet, member: str, event: Mapping[str, Any]) -> None:
    what, words = str(event["do"]), str(event.get("words") or "")
    if what == "hand-over":
        recall.hand_over(access, row, member)
    elif what == "moment":
        place = event.get("place")
        at = (float(place[0]), float(place[1])) if place else None
        access.add_moment(row.id, float(event["time"]), words, at, str(event.get("check") or ""))
    elif what == "note":
        access.decide(row.id, [told.NOTE], "note", words)
    else:
        access.decide(row.id, [str(key) for key in event["keys"]], what, words)
