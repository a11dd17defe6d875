"""The same set from another side: its clip is added here, and both are checked together."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.rules.second_clip import replaceable
from app.rules.words import exercise_of, title_of
from app.store.access import Access
from app.store.models import TrainingSet
from app.views import asking, parts, send
from app.views.machine import WITHDRAWN

SAME_SET = (
    "Only if two phones filmed this same set. The clips are lined up by the movement, and each check is "
    "answered from the view that shows it best."
)
ONE_ALONE = " The second clip could not be used; what stands here is from the first."


def offer(access: Access, row: TrainingSet) -> None:
    """What came of two clips, and a place for the second one where there is none that could be used."""
    if row.second_clip is not None and not _both(access, row):
        return
    if row.status not in ("checked", "unfit") or row.clip_dropped_at is not None or row.binned_at is not None:
        return
    with st.expander("Add the clip from another side"):
        st.caption(SAME_SET)
        if access.actor.is_trainer:
            st.caption(WITHDRAWN)
        exercise = exercise_of(row.exercise)
        for view in exercise.views if exercise else ():
            parts.html(f"<p><b>From the {view.name}.</b> {escape(view.film)}</p>")
        _sender(access, row)


def _sender(access: Access, row: TrainingSet) -> None:
    """Choose the clip; it is sent piece by piece as the first one was, and the set is checked again then."""
    told = {
        "person": row.person_id, "exercise": row.exercise, "done_on": row.done_on.isoformat(),
        "second_of": row.id,
    }  # fmt: skip
    send.sender(
        access.actor,
        {
            "told": told, "agreed": True, "title": f"{title_of(row.exercise)}, second clip", "outline": None,
            "where": "", "kept": asking.kept_words(), "filmed": True,
        },
        key=f"second-{row.id}",
    )  # fmt: skip


def _both(access: Access, row: TrainingSet) -> bool:
    """That there are two clips, and whether the second may be replaced.

    A trainer reads beside the clip how they fit, a member whether they do.
    """
    report = access.reports([row.id]).get(row.id)
    out = row.status != "checking" and replaceable(report, row.message)
    parts.html(f"<p><b>Filmed from two sides.</b>{ONE_ALONE if out else ''}</p>")
    return out
