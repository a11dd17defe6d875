"""The same set from another side: its clip is added here, and both are checked together."""

from __future__ import annotations

import streamlit as st
from markupsafe import escape

from app.page.theme import LARGEST_CLIP_MB
from app.rules.words import exercise_of
from app.store.access import Access
from app.store.models import TrainingSet
from app.views import parts
from shared.errors import PlumbsetError

KINDS = ["mp4", "mov", "m4v", "webm", "mkv", "avi", "3gp"]
SAME_SET = (
    "Only if two phones filmed this same set. The clips are lined up by the movement, and each check is "
    "answered from the view that shows it best."
)


def offer(access: Access, row: TrainingSet) -> None:
    """What came of two clips, or a place for the second one."""
    if row.second_clip is not None:
        _both(access, row)
        return
    if row.status not in ("checked", "unfit") or row.clip_dropped_at is not None or row.binned_at is not None:
        return
    with st.expander("Add the clip from another side"):
        st.caption(SAME_SET)
        exercise = exercise_of(row.exercise)
        for view in exercise.views if exercise else ():
            parts.html(f"<p><b>From the {view.name}.</b> {escape(view.film)}</p>")
        clip = st.file_uploader(
            f"The second clip, up to {LARGEST_CLIP_MB} MB", type=KINDS, key=f"second-{row.id}",
            max_upload_size=LARGEST_CLIP_MB,
        )  # fmt: skip
        if st.button("Add it and check both", key=f"pair-{row.id}", disabled=clip is None) and clip:
            try:
                access.add_second(row.id, clip, clip.name)
            except PlumbsetError as error:
                parts.said_wrong(error)
                return
            st.rerun()


def _both(access: Access, row: TrainingSet) -> None:
    """That there are two clips, and how they were laid over each other or why the second was left out."""
    report = access.reports([row.id]).get(row.id)
    notes = report.quality.notes if report is not None else []
    said = [note for note in notes if row.second_name and row.second_name in note]
    parts.html("<p><b>Filmed from two sides.</b></p>")
    for note in said:
        st.caption(parts.plain(note))
