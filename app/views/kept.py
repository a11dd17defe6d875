"""What is kept of a set: its clip, which can be deleted and put back for a week, and who decided what."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import streamlit as st

from app.rules.unread import failed_words
from app.rules.words import day_words
from app.store.access import Access
from app.store.base import day_of
from app.store.bin import days_left
from app.store.check_again import DELETED
from app.store.models import TrainingSet
from app.views import parts
from shared.errors import PlumbsetError
from shared.report import SetReport
from vision.telling.words import counted

NOT_ANEW = "Checking this set again did not work."
FROM_BEFORE = "What you see here is from the check before."
#: Decisions in words.
_DID = {
    "agree": "agreed", "reword": "reworded", "no-fault": "no fault", "added": "added",
    "withdrawn": "took back", "note": "note",
}  # fmt: skip


def offer(access: Access, row: TrainingSet) -> None:
    """Delete the clip, or put it back while it lies in the bin."""
    if row.clip is None:
        return
    if row.binned_at is None:
        with st.expander("Delete the clip"):
            st.caption(
                "The clip and its pictures are hidden at once and gone for good after a week. Repetitions, "
                "pain and what your trainer wrote stay."
            )
            if st.button("Delete it", key=f"delete-{row.id}"):
                _do(lambda: access.delete_clip(row.id))
        return
    left = days_left(row)
    if not left:
        return
    st.info(f"The clip is deleted: hidden now, and gone for good in {counted(left, 'day')}.")
    if access.may_put_back(row) and st.button("Put the clip back", key=f"back-{row.id}"):
        _do(lambda: access.put_back(row.id))


def sent_before(access: Access, row: TrainingSet) -> None:
    """Said once where this very clip had been sent before: what is kept of it."""
    if st.session_state.pop("known", None) != row.id:
        return
    load = f"Its load is saved as {access.room().load_words(row.load, row.unit)}." if row.load else ""
    st.info(f"You sent this video before; here is its result. {load or 'Nothing was added.'}")


def from_before(row: TrainingSet) -> bool:
    """Say of a set with a report that checking it once more gave none; whether that was so."""
    if row.status not in ("checked", "unfit") or row.message in ("", DELETED):
        return False
    st.warning(parts.plain(f"{NOT_ANEW} {failed_words(row.message)} {FROM_BEFORE}"))
    return True


def decided(access: Access, set_id: int, report: SetReport) -> None:
    """Who decided what of a set, for trainers."""
    lines = access.decisions(set_id)
    if not lines:
        return
    today, titles = parts.today(), {f.check: f.title for f in report.findings if f.title}
    with st.expander("Who decided what"):
        for line in lines:
            what = " ".join(filter(None, [_of(line.finding, titles), _DID[line.kind], line.words]))
            st.markdown(
                f"{parts.plain(line.trainer)}, {day_words(day_of(line.at), today)}: {parts.plain(what)}"
            )


def _of(finding: str, titles: Mapping[str, str]) -> str:
    """``Leaning back, rep 6:`` for ``lean-back:6``; nothing where the whole set is meant."""
    check, _, rep = finding.partition(":")
    title = titles.get(check, check.replace("-", " ").capitalize())
    return f"{title}{f', rep {rep}' if rep.isdigit() else ''}:" if title else ""


def _do(change: Callable[[], None]) -> None:
    try:
        change()
    except PlumbsetError as error:
        parts.said_wrong(error)
        return
    st.rerun()
