"""A clip is read while it is still being sent, in a process of its own that gives way to every check.

One clip at a time; the others are checked when they are whole, as ever. What was read early is told and
then forgotten: the check looks for itself.
"""

from __future__ import annotations

import queue
import struct
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from app.jobs.contained import Child, Say, quiet
from app.jobs.held import LIMITS
from app.jobs.pools import give_way
from shared.errors import InputError, PlumbsetError
from shared.exercise import find_exercise

if TYPE_CHECKING:
    from vision.coming import Coming

#: So long, in s, the next piece of a clip is waited for.
IDLE_S = 30.0
#: The name of the thread that watches over the process.
READER = "early"
#: Of so many sets the first words are remembered.
MOST_SETS = 100
#: How a WebM or Matroska file begins; it is read as it comes.
_EBML = b"\x1a\x45\xdf\xa3"
_BOX, _LONG = struct.Struct(">I4s"), struct.Struct(">Q")


def reads_in_order(path: Path) -> bool:
    """Whether a clip can be read before its end is here, as far as what is here tells.

    An MP4 or MOV can where its index comes before the pictures, or piece by piece among them; in a phone's
    it mostly comes last.
    """
    at = 0
    with suppress(FileNotFoundError), path.open("rb") as file:  # it may just have been thrown away
        while len(head := file.read(16)) == 16:
            size, kind = _BOX.unpack_from(head)
            if head.startswith(_EBML) or kind == b"moov":
                return True
            size = _LONG.unpack_from(head, 8)[0] if size == 1 else size
            if kind == b"mdat" or size < 8 or (at == 0 and kind != b"ftyp"):
                return False
            at += size
            file.seek(at)
    return False


@lru_cache(maxsize=1)
def _coming(exercise: str) -> Coming:
    """The clip that this process reads."""
    from vision.coming import Coming
    from vision.seeing.pose_mediapipe import MediaPipePose

    return Coming(find_exercise(exercise), MediaPipePose(None))


def read_on(exercise: str, clip: Path, share: float, say: Say) -> list[str]:
    """What stands against a clip of which a share is here: what the process that reads it is asked."""
    return list(_coming(exercise).read_on(clip, share))


def first_words(exercise: str, clip: Path, say: Say) -> str:
    """The first words of a clip that is all here, empty where too much of it was not read before."""
    look = _coming(exercise).whole(clip)
    return "" if look is None else look.words


@dataclass(frozen=True)
class Here:
    """Where a clip lies, and which share of it; set_id: once it is whole and a set of the store."""

    path: Path
    share: float
    set_id: int | None = None


@dataclass
class _Clip:
    """The one that is read; against: what stands against it, in sentences."""

    name: str
    exercise: str
    against: Sequence[str] = ()
    news: queue.SimpleQueue[Here] = field(default_factory=queue.SimpleQueue)

    def newest(self) -> Here:
        """The last that was heard of it; ``queue.Empty`` where nobody goes on with it."""
        here = self.news.get(timeout=IDLE_S)
        with suppress(queue.Empty):
            while True:
                here = self.news.get_nowait()
        return here


class EarlyReader:
    """Reads clips while they come; one for the page's process."""

    def __init__(self, start: Callable[[], Child] = Child):
        self._start, self._lock = start, threading.Lock()
        self._clip: _Clip | None = None
        self._first: dict[int, str] = {}
        self._given_up = ""

    def came(self, name: str, exercise: str, here: Here) -> Sequence[str]:
        """More of a clip has come; gives what is known to stand against it by now, in sentences."""
        with self._lock:
            begins = self._clip is None and name != self._given_up and reads_in_order(here.path)
            if begins:
                self._clip = _Clip(name, exercise)
            if self._clip is None or self._clip.name != name:
                return ()
            self._clip.news.put(here)
            if begins:
                threading.Thread(target=self._read, args=(self._clip,), name=READER, daemon=True).start()
            return self._clip.against

    def whole(self, name: str, here: Here) -> None:
        """All of a clip has come."""
        with self._lock:
            if self._clip is not None and self._clip.name == name:
                self._clip.news.put(here)

    def first_words(self, set_id: int) -> str:
        """What can be said of a set before its check says anything; empty where nothing can."""
        return self._first.get(set_id, "")

    def _read(self, clip: _Clip) -> None:
        give_way()
        try:
            with self._start() as child:
                while (here := clip.newest()).set_id is None:
                    with suppress(InputError):  # it may just have become whole, and lies elsewhere now
                        asked = (clip.exercise, here.path, here.share)
                        clip.against = child.ask(read_on, asked, quiet, list[str], LIMITS)
                asked_last = (clip.exercise, here.path)
                words = child.ask(first_words, asked_last, quiet, str, LIMITS)
                self._remember(here.set_id, words)
        except PlumbsetError:
            self._given_up = clip.name  # what is wrong with it its check tells
        except queue.Empty:
            pass
        finally:
            with self._lock:
                self._clip = None

    def _remember(self, set_id: int, words: str) -> None:
        self._first[set_id] = words
        for old in list(self._first)[:-MOST_SETS]:
            del self._first[old]


@lru_cache(maxsize=1)
def early_reader() -> EarlyReader:
    """The one of this process."""
    return EarlyReader()
