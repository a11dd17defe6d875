"""The table and the page over all clips of a batch: what came of each, and where its report lies."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.batches.list import Entry
from shared.errors import UsageError
from shared.faults import FLAG_CERTAINTY
from shared.report import SetReport
from vision.common.cautions import CAUTIONS
from vision.telling.charts import mark
from vision.telling.cues import headline
from vision.telling.files import write_text
from vision.telling.tables import cell
from vision.telling.words import counted

SUMMARY, INDEX = "summary.csv", "index.html"
ASSETS = Path(__file__).parents[1] / "assets"
State = Literal["judged", "unfit", "failed", "waiting"]
WORDS: dict[State, str] = {
    "judged": "judged", "unfit": "not fit to judge", "failed": "failed", "waiting": "not checked yet",
}  # fmt: skip


@dataclass(frozen=True)
class Row:
    """One clip. page: its report, from the batch's folder; said: what came of it, in a sentence.

    notices: what stands first in the report, such as a member who is not cleared.
    """

    shown: str
    exercise: str
    title: str
    state: State
    said: str
    page: str = ""
    repetitions: int | None = None
    flagged: int | None = None
    to_watch: int | None = None
    flags: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """The mark that stands before it."""
        return "flag" if self.flagged else "watch" if self.to_watch else "clear"


def judged(entry: Entry, folder: str, report: SetReport) -> Row:
    """The row of a clip that has a report, fit to judge or not."""
    page = f"{folder}/report.html"
    if not report.quality.usable:
        said = " ".join([f"{headline(report)}.", *(p.text for p in report.quality.problems)])
        return _row(entry, "unfit", said, page)
    watch = sum(f.verdict == "watch" for f in report.findings)
    flags = report.flags()
    titles = tuple(dict.fromkeys(f.title or f.check for f in flags))
    notices = tuple(report.notices)
    return _row(entry, "judged", headline(report), page, report.count, len(flags), watch, titles, notices)


def failed(entry: Entry, sentence: str) -> Row:
    """The row of a clip without a report."""
    return _row(entry, "failed", sentence)


def waiting(entry: Entry) -> Row:
    """The row of a clip that was not reached."""
    return _row(entry, "waiting", "Run the same command again.")


def _row(entry: Entry, state: State, said: str, page: str = "", *more: Any) -> Row:
    exercise = entry.exercise
    return Row(without_secrets(entry.shown), exercise.name, exercise.title, state, said, page, *more)


def without_secrets(shown: str) -> str:
    """A path as it is; of a URL only scheme, host and path: the rest may hold a key."""
    if "://" not in shown:
        return shown
    parts = urlsplit(shown)
    return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"


def counts(rows: Sequence[Row]) -> str:
    """``18 clips: 15 judged, 2 not fit to judge, 1 failed``."""
    found = {state: sum(row.state == state for row in rows) for state in WORDS}
    named = ", ".join(f"{n} {WORDS[state]}" for state, n in found.items() if n)
    return f"{counted(len(rows), 'clip')}: {named}"


def write_pages(rows: Sequence[Row], out: Path) -> None:
    """Write summary.csv and index.html, each in one move.

    Raises
    ------
    UsageError : the folder cannot be written to.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        write_text(out / SUMMARY, summary_csv(rows))
        write_text(out / INDEX, index_html(rows))
    except OSError as error:
        raise UsageError(
            f"The folder {out} cannot be written to ({error.strerror}); choose another one with --out."
        ) from error


def summary_csv(rows: Sequence[Row]) -> str:
    """One row a clip; cells that a spreadsheet might run are made harmless."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(
        ("clip", "exercise", "state", "repetitions", "flagged", "to_watch", "flags", "said", "report")
    )
    for r in rows:
        numbers = (r.repetitions, r.flagged, r.to_watch)
        row = (
            r.shown,
            r.exercise,
            WORDS[r.state],
            *numbers,
            "; ".join(r.flags),
            " ".join((r.said, *r.notices)),
            r.page,
        )
        writer.writerow([cell(value) for value in row])
    return text.getvalue()


def index_html(rows: Sequence[Row]) -> str:
    """The page, as one file that needs nothing else; text from people is escaped."""
    pages = Environment(loader=FileSystemLoader(ASSETS), autoescape=True, undefined=StrictUndefined)
    open_rows = [row for row in rows if row.state != "judged"]
    return pages.get_template("batch.html").render(
        counts=counts(rows), judged=[row for row in rows if row.state == "judged"], unjudged=open_rows,
        cautions=CAUTIONS, certainty=FLAG_CERTAINTY, mark=mark, words=WORDS,
    )  # fmt: skip
