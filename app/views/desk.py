"""What the desk of a review is given, and what becomes of what a trainer does there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast

import streamlit as st

from app.page.cards import added, cards, reads
from app.page.entry import CLIP, MOVING
from app.page.timeline import loop, strip
from app.rules import told
from app.rules.states import DecisionKind
from app.rules.told import Said
from app.rules.words import exercise_of
from app.store.access import Access
from app.store.models import TrainingSet
from app.store.rules import Refused
from app.views import parts, recall
from shared.errors import InternalError, PlumbsetError
from shared.report import RepPart, SetReport
from vision.telling.cues import best_rep

BEFORE = (
    "Before you hand over: ask about sharp or joint pain. A clinician's advice and local rules come before "
    "any prompt here; none of it is medical advice."
)
NOT_SENT = "Not sent yet: hand over again."
STILL_HERE = "What you did stays here, and nothing is handed over until it is saved."
CHANGED = "What you marked is no longer there: the set was checked again meanwhile."
NOT_HANDED_OVER = "This set was not handed over: look at it once more, then hand it over."
HAND_OVER = "hand-over"


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
        **_kept_until(row.id),
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


def _kept_until(set_id: int) -> dict[str, int]:
    """How far what was done at the desk is heard, and how far of that it is kept or refused."""
    heard, waits = st.session_state.get(f"heard-{set_id}", 0), _waits(set_id)
    return {"heard": heard, "applied": waits[0]["n"] - 1 if waits else heard}


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


def trouble(row: TrainingSet) -> bool:
    """Say what was not kept at the desk; whether what waits shall be tried again now."""
    wrong, waits = st.session_state.pop(f"wrong-{row.id}", ""), _waits(row.id)
    if wrong:
        st.error(parts.plain(wrong))
    if not waits:
        return False
    st.session_state[f"wrong-{row.id}"] = wrong
    return st.button("Try again", key="again")


def with_waiting(set_id: int, said: Mapping[str, Said]) -> dict[str, Said]:
    """The last words as the trainer left them: what is kept, and over it what waits to be kept."""
    last = list(said.items())
    for event in _waits(set_id):
        what, words = str(event["do"]), str(event.get("words") or "")
        if what == "moment":
            added = Said("added", words, float(event["time"]), _place(event), str(event.get("check") or ""))
            last.append((f"added:at-{event['n']}", added))
        else:
            last += [(key, Said(cast(DecisionKind, what), words)) for key in _keys(event)]
    return told.latest(last)


def take(
    access: Access, row: TrainingSet, member: str, log: Sequence[Mapping[str, Any]], again: bool = False
) -> None:
    """Keep what was done at the desk since the last time, in its order and each once.

    What the store cannot keep just now waits, with all behind it, for the next thing done or for ``again``.
    Nothing is handed over behind what was not kept, nor where the page began anew since it was asked for.
    """
    state, heard = st.session_state, f"heard-{row.id}"
    begun, last = heard in state, state.get(heard, 0)
    fresh = [event for event in log if event["n"] > last]
    state[heard] = max([last, *(event["n"] for event in fresh)])
    if not (fresh or again):
        return
    _waits(row.id).extend(event for event in fresh if event["do"] != HAND_OVER)
    wrong = _keep_all(access, row)
    if any(event["do"] == HAND_OVER for event in fresh):
        unseen = state.get(f"refused-{row.id}", set()) & {event["n"] for event in log}
        if begun and not (wrong or unseen) and not (wrong := _release(access, row)):
            recall.go_on(access, row, member)
        elif begun or row.reviewed_at is None:
            wrong.append(NOT_HANDED_OVER)
    state[f"wrong-{row.id}"] = " ".join(wrong)
    st.rerun()


def _waits(set_id: int) -> list[Mapping[str, Any]]:
    """What was done at the desk of a set and is not kept yet, in its order."""
    waits: list[Mapping[str, Any]] = st.session_state.setdefault(f"waits-{set_id}", [])
    return waits


def _keep_all(access: Access, row: TrainingSet) -> list[str]:
    """Keep what waits, as far as the store can; gives what went wrong, in words."""
    waits = _waits(row.id)
    wrong: list[str] = []
    while waits:
        try:
            _keep(access, row, waits[0])
        except InternalError as error:
            return [*wrong, str(error), STILL_HERE]
        except PlumbsetError as error:
            words = str(waits[0].get("words") or "").strip()
            wrong.append(CHANGED if isinstance(error, Refused) else str(error))
            wrong += [f"Your words were: {words}"] if words else []
            st.session_state.setdefault(f"refused-{row.id}", set()).add(waits[0]["n"])
        del waits[0]
    return wrong


def _release(access: Access, row: TrainingSet) -> list[str]:
    """Hand the set over; gives what went wrong, in words."""
    try:
        access.release(row.id)
    except PlumbsetError as error:
        return [str(error)]
    return []


def _keep(access: Access, row: TrainingSet, event: Mapping[str, Any]) -> None:
    what, words, number = str(event["do"]), str(event.get("words") or ""), int(event["n"])
    if what == "moment":
        check = str(event.get("check") or "")
        access.add_moment(row.id, float(event["time"]), words, _place(event), check, number)
    else:
        access.decide(row.id, _keys(event), what, words, number)


def _keys(event: Mapping[str, Any]) -> list[str]:
    """The findings of which something was said, or the note."""
    return [told.NOTE] if event["do"] == "note" else [str(key) for key in event["keys"]]


def _place(event: Mapping[str, Any]) -> told.Place | None:
    place = event.get("place")
    return (float(place[0]), float(place[1])) if place else None
