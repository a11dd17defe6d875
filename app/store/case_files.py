"""Cases written into one archive, and read back from one that anybody may have sent."""

from __future__ import annotations

import lzma
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from app.rules.cases import Case, case_of
from app.rules.words import exercise_of
from app.store.cases import reviewed
from app.store.database import Database
from app.store.files import Files
from app.store.models import Report
from shared.definition import faults_of
from shared.errors import DefinitionError, UsageError
from shared.report import SetReport
from vision.judging.approved import MAX_BYTES, Trace, read_traces

CASE, SIGNALS = "case.json", "signals.csv"
MOST_CASES = 100_000
#: What an archive raises that was damaged on its way, or is none: its file, its list, what is packed in it.
SPOILED = (
    OSError, EOFError, KeyError, ValueError, NotImplementedError, RuntimeError,
    zipfile.BadZipFile, zlib.error, lzma.LZMAError,
)  # fmt: skip
_ABOUT = """Reviewed sets as numbers, one folder a set.

case.json     repetitions, what each check measured and said, and the trainer's word on it
signals.csv   the angles and lengths over the time of the clip, from its first frame

There is no picture, no name, no text that anybody wrote, no name of a file, and no date finer than a week.
Judge them anew with: plumbset cases score cases.zip
"""


@dataclass(frozen=True)
class Exported:
    """How many sets were written, and of how many the signals are kept no longer."""

    cases: int
    without_signals: int


def export_cases(database: Database, files: Files, archive: Path) -> Exported:
    """Write every set of which a trainer has spoken into an archive (zip), numbers alone.

    Raises
    ------
    UsageError : the archive cannot be written.
    """
    part = archive.with_name(f".part-{archive.name}")
    try:
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as out:
            out.writestr(_plain("README.txt"), _ABOUT)
            done = _write(database, files, out)
        part.replace(archive)
        return done
    except OSError as error:
        raise UsageError(
            f"The archive could not be written ({error.strerror}); choose another place."
        ) from error
    finally:
        part.unlink(missing_ok=True)


def _write(database: Database, files: Files, out: zipfile.ZipFile) -> Exported:
    """By chance, in an order that says nothing of when in its week a set was done."""
    cases = lost = 0
    with database.read() as session:
        for row, report, said in reviewed(session, in_order=False):
            exercise, body = exercise_of(row.exercise), SetReport.from_json(report.body)
            case = case_of(body, said, exercise, row.done_on, row.counted) if exercise else None
            if case is None:
                continue
            if (signals := _signals(files, report)) is None:
                lost += 1
                continue
            cases += 1
            for name, text in ((CASE, case.model_dump_json(by_alias=True)), (SIGNALS, signals)):
                out.writestr(_plain(f"{cases:05}/{name}"), text, zipfile.ZIP_DEFLATED)
    return Exported(cases, lost)


def _plain(name: str) -> zipfile.ZipInfo:
    """An entry without the hour at which it was written."""
    return zipfile.ZipInfo(name)


def _signals(files: Files, report: Report) -> str | None:
    """The kept table of signals, None where it is there no longer or holds more than numbers."""
    if report.signals is None or not files.there(report.signals):
        return None
    try:
        text = files.path(report.signals).read_text(encoding="utf-8")
        read_traces(text, Path(SIGNALS))
    except (UnicodeDecodeError, DefinitionError):
        return None
    return text


def read_cases(archive: Path) -> Iterator[tuple[str, Case, Mapping[str, Trace]]]:
    """Each case of an archive: its number, what was said, and its signals by column.

    Raises
    ------
    UsageError : the archive cannot be read. DefinitionError : a file in it is not as it was written.
    """
    try:
        with zipfile.ZipFile(archive) as kept:
            names = sorted(name for name in kept.namelist() if name.endswith(f"/{CASE}"))
            if not names or len(names) > MOST_CASES:
                raise UsageError(
                    f"{archive.name} holds no cases; give what plumbset cases --out has written."
                )
            for name in names:
                folder = name.removesuffix(f"/{CASE}")
                yield folder, _case(kept, name), _traces(kept, f"{folder}/{SIGNALS}")
    except SPOILED as error:
        raise UsageError(f"{archive.name} cannot be read as an archive of cases; export it again.") from error


def _case(kept: zipfile.ZipFile, name: str) -> Case:
    try:
        return Case.model_validate_json(_text(kept, name))
    except ValidationError as error:
        raise DefinitionError(Path(name), faults_of(error)[:1]) from error


def _traces(kept: zipfile.ZipFile, name: str) -> dict[str, Trace]:
    return read_traces(_text(kept, name), Path(name))


def _text(kept: zipfile.ZipFile, name: str) -> str:
    """A file of the archive, never more than ``MAX_BYTES`` of it whatever its header says."""
    with kept.open(name) as stream:
        data = stream.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise DefinitionError(Path(name), [("", f"is larger than {MAX_BYTES // 1_000_000} MB")])
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise DefinitionError(Path(name), [("", "is not UTF-8 text")]) from error
