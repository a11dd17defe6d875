"""Pointing at a machine's parts on a clip, and confirming those of an earlier one: for trainers."""

from __future__ import annotations

import streamlit as st

from app.page.entry import CLIP
from app.rules.machine_marks import asked_marks, from_board
from app.store.access import Access
from app.store.models import TrainingSet
from app.views import clip, parts
from app.views.machine import WITHDRAWN
from shared.errors import PlumbsetError
from shared.exercise import find_exercise
from shared.report import SetReport

HOW = (
    "Point at the parts that you see, in any order and at any moment: with them more is told of the set, "
    "from its first rep on. It is then checked again; the places are offered for this machine's next clip, "
    "and where the frame board is seen they are used there without asking."
)
OFFERED = (
    "The machine's parts lay here in the clip that was marked last. The camera may have moved since: look at "
    "the picture, and use them only where every ring lies on its part. Touch a part's place to put its ring "
    "there."
)
MARKED = "This set was checked with these marks."
FROM_BOARD = (
    "Marks from the board: {parts}. No need to point at these, unless one is off in the report's picture or "
    "was moved since."
)


def show(access: Access, row: TrainingSet, report: SetReport) -> None:
    """The clip to point at; open where an earlier clip's marks wait to be looked at."""
    offered, picture = access.offered_marks(row.id), report.clip
    with st.expander("Mark the machine", expanded=bool(offered)):
        if found := from_board(report):
            st.caption(FROM_BOARD.format(parts="; ".join(found.values())))
        if row.marks or offered or not found:
            st.caption(MARKED if row.marks else OFFERED if offered else HOW)
        wanted = asked_marks(find_exercise(row.exercise))
        points = clip.marks(
            {
                "src": f"{CLIP}/{row.id}",
                "width": picture.width,
                "height": picture.height,
                "wanted": [{"name": name, "words": words} for name, words in wanted.items()],
                "points": row.marks or offered,
                "use": "They fit: check again with them" if offered else "Check again with these marks",
            },
            key=f"marks-{row.id}",
        )
        st.caption(WITHDRAWN)
    if not points:
        return
    try:
        access.mark_set(row.id, points)
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()
