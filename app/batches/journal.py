"""What became of each file of a watched folder, by its content, so that nothing is checked twice.

One line of JSON a file, added when it is done: a line that a crash cut off is left out when it is read.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import Literal

from pydantic import ValidationError

from shared.errors import UsageError
from shared.report_machine import Part


class Entry(Part):
    """A file that was looked at. folder: where its sets lie; said: the sentence that was said of it.

    refused: it cannot be read, and that will not change; failed: our own failure, tried again next time.
    """

    sha256: str
    file: str
    size: int
    mtime_ns: int
    state: Literal["done", "refused", "failed"]
    folder: str | None = None
    said: str = ""


class Journal:
    """The journal at a path; made when the first line is written."""

    def __init__(self, path: Path):
        self._path = path
        self._by_bytes: dict[str, Entry] = {}
        self._files: set[tuple[str, int, int]] = set()
        for line in _lines(path):
            with suppress(ValidationError):
                self._take(Entry.model_validate_json(line))

    def _take(self, entry: Entry) -> None:
        """Know a file that is done with; the first one of the same bytes is what others are told by."""
        if entry.state != "failed":
            self._by_bytes.setdefault(entry.sha256, entry)
            self._files.add((entry.file, entry.size, entry.mtime_ns))

    def same_bytes(self, sha256: str) -> Entry | None:
        """What became of these bytes under any name; None where they are to be looked at."""
        return self._by_bytes.get(sha256)

    def same_file(self, file: str, size: int, mtime_ns: int) -> bool:
        """Whether a file is by name, size and time one that is done with: then it need not be read."""
        return (file, size, mtime_ns) in self._files

    def add(self, entry: Entry) -> None:
        """Keep what became of a file; on the disk when this returns.

        Raises
        ------
        UsageError : it cannot be written.
        """
        try:
            with self._path.open("a", encoding="utf-8") as stream:
                stream.write("\n" * self._torn() + entry.model_dump_json() + "\n")
                stream.flush()
                os.fsync(stream.fileno())
        except OSError as error:
            raise UsageError(
                f"The journal {self._path} cannot be written ({error.strerror}); free some space or choose "
                "another folder."
            ) from error
        self._take(entry)

    def _torn(self) -> bool:
        """Whether the last line was cut off: the next one must not go on in it."""
        try:
            data = self._path.read_bytes()
        except FileNotFoundError:
            return False
        return bool(data) and not data.endswith(b"\n")


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="utf-8", errors="replace").splitlines()
    except FileNotFoundError:
        return []
    except OSError as error:
        raise UsageError(f"The journal {path} cannot be read ({error.strerror}).") from error
