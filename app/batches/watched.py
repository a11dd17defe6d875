"""A folder in which recordings land: each is taken once it is written whole, and only read."""

from __future__ import annotations

import hashlib
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from app.batches.journal import Entry, Journal
from app.batches.list import SUFFIXES
from shared.errors import InputError, PlumbsetError, UsageError

JOURNAL = "journal.jsonl"
#: A file is whole once its size and time have kept for so long, s, and nobody holds a lock on it.
SETTLED_S = 10.0

CLOCK = time.monotonic


class Done(NamedTuple):
    """What to say of a recording, and the folder that its sets lie in, if in one."""

    said: str
    folder: str | None = None


#: Checks a recording; it is told the hash of its content as well.
Check = Callable[[Path, str], Done]


class Facts(NamedTuple):
    """Size in bytes and time of the last change: what tells, without reading it, that a file kept."""

    size: int
    mtime_ns: int


@dataclass
class Watched:
    """The folder, where the journal lies, and what is known so far. tell: told a sentence about a file."""

    folder: Path
    journal: Path
    check: Check
    tell: Callable[[str], None]
    now: Callable[[], float] = field(default_factory=lambda: CLOCK)
    _seen: dict[str, tuple[Facts, float]] = field(default_factory=dict)
    _tried: set[tuple[str, Facts]] = field(default_factory=set)

    def __post_init__(self) -> None:
        if not self.folder.is_dir():
            raise UsageError(f"{self.folder} is no folder; give the one where recordings land.")
        self.journal.mkdir(parents=True, exist_ok=True)
        self._journal = Journal(self.journal / JOURNAL)

    def turn(self) -> None:
        """Look through the folder once, and check what is whole and new, the oldest first."""
        for path, facts in sorted(self._whole(), key=lambda found: found[1].mtime_ns):
            if (path.name, facts) not in self._tried and not self._journal.same_file(path.name, *facts):
                self._tried.add((path.name, facts))
                self._take(path, facts)

    def _whole(self) -> list[tuple[Path, Facts]]:
        found = []
        for path in self.folder.iterdir():
            if path.suffix.lower() not in SUFFIXES or path.name.startswith("."):
                continue
            with suppress(FileNotFoundError):  # taken away since
                facts = Facts(path.stat().st_size, path.stat().st_mtime_ns)
                before, since_s = self._seen.get(path.name, (None, 0.0))
                if before != facts:
                    self._seen[path.name] = facts, self.now()
                elif facts.size and self.now() - since_s >= SETTLED_S and not locked(path):
                    found.append((path, facts))
        return found

    def _take(self, path: Path, facts: Facts) -> None:
        try:
            with path.open("rb") as stream:
                sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
        except OSError as error:
            self.tell(f"{path.name} cannot be read ({error.strerror}); it stays where it is.")
            return
        entry = Entry(sha256=sha256, file=path.name, size=facts.size, mtime_ns=facts.mtime_ns, state="done")
        known = self._journal.same_bytes(sha256)
        if known is not None:
            said = f"{path.name} is the same as {known.file}; it was not checked again."
            more: dict[str, object] = {"state": known.state, "folder": known.folder, "said": said}
        else:
            more = self._checked(path, sha256)
        self._journal.add(entry.model_copy(update=more))
        self.tell(str(more["said"]))

    def _checked(self, path: Path, sha256: str) -> dict[str, object]:
        """What is kept of a file: it is done, refused or failed, in a sentence."""
        try:
            return self.check(path, sha256)._asdict()
        except PlumbsetError as error:
            if isinstance(error, InputError) and not isinstance(error, UsageError):
                return {"state": "refused", "said": f"{error} {path.name} stays where it is."}
            return {"state": "failed", "said": f"{error} It is tried again when the command starts anew."}


def locked(path: Path) -> bool:
    """Whether somebody who writes the file holds it, where the system tells."""
    try:
        with path.open("rb") as stream:
            if sys.platform != "win32":
                import fcntl

                fcntl.flock(stream, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    except PermissionError:
        return sys.platform == "win32"  # elsewhere it is a file that may not be read: opening it says so
    except OSError:
        return False
    return False
