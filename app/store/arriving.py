"""Clips on their way in: each grows piece by piece in a file, beside it what was told with it.

What is counted is on the disk. A clip stays until its set is in the store and for a while after it, so that
whoever missed the answer can ask again.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path
from threading import RLock
from typing import BinaryIO

from app.store.files import not_kept
from shared.errors import UsageError

_NAME = re.compile(r"[0-9a-f]{32}")
#: So long, in s, a clip that is not whole waits for its next piece, and what became of one is remembered.
WAITS_S = 3 * 86_400.0
#: The same of what a station films: nobody may have agreed to it, and it is never kept for later.
STATION_WAITS_S = 900.0


class Unknown(UsageError):
    """There is no such clip on its way, or it is another person's."""

    def __init__(self) -> None:
        super().__init__("This clip is not on its way here; send it anew.")


class Overtaken(UsageError):
    """Another request goes on with the same clip, or at another place of it."""

    def __init__(self) -> None:
        super().__init__("The clip is not at this place; ask how much of it is here.")


@dataclass(frozen=True)
class ArrivingClip:
    """owner: who sends it; length: bytes of the whole; told: what goes with it. set_id: once it is in."""

    owner: int
    length: int
    told: str
    name: str = ""
    set_id: int | None = None
    known: bool = False


class Arriving:
    """The clips on their way into one folder. The newest request has the turn at a clip, older ones end."""

    def __init__(self, folder: Path, waits_s: float = WAITS_S):
        self.folder, self._waits_s = folder, waits_s
        self._locks: defaultdict[str, RLock] = defaultdict(RLock)
        self._turns: dict[str, object] = {}

    def begin(self, clip: ArrivingClip) -> str:
        """A place for a new clip; gives its name, which nobody can guess."""
        name = secrets.token_hex(16)
        with _on_disk():
            self._of(name).mkdir(parents=True, mode=0o700)
            self._bytes(name).touch(0o600)
            self._write(name, clip)
        return name

    def clip(self, name: str, owner: int) -> ArrivingClip:
        """What is known of a clip; Unknown for everyone but who sends it."""
        try:
            kept = ArrivingClip(**json.loads((self._of(name) / "told.json").read_text(encoding="utf-8")))
        except OSError:
            raise Unknown from None
        if kept.owner != owner:
            raise Unknown
        return kept

    def take_turn(self, name: str, owner: int) -> tuple[ArrivingClip, object, int]:
        """Go on with a clip: from here on older requests write no more.

        Gives what is known of it by now, the turn, and how much is here: all of one that is in.
        """
        self.clip(name, owner)  # a name that nobody has is given no lock
        with self.held(name), _on_disk():
            clip, turn = self.clip(name, owner), object()
            if clip.set_id is not None:
                return clip, turn, clip.length
            self._turns[name] = turn
            return clip, turn, self._size(name)

    def add(self, name: str, turn: object, at: int, piece: bytes) -> None:
        """Write a piece at its place; Overtaken where another has the turn or the clip is not there yet."""
        with self.held(name), _on_disk():
            if self._turns.get(name) is not turn or self._size(name) != at:
                raise Overtaken
            with self._bytes(name).open("ab") as out:
                out.write(piece)

    def settle(self, name: str, owner: int) -> tuple[ArrivingClip, int]:
        """What is known of a clip by now, and how many bytes are here, safe from a power cut."""
        with self.held(name), _on_disk():
            clip = self.clip(name, owner)
            if clip.set_id is not None:
                return clip, clip.length
            with self._bytes(name).open("rb") as here:
                os.fsync(here.fileno())
            return clip, self._size(name)

    @contextmanager
    def held(self, name: str) -> Iterator[None]:
        """Nobody else changes a clip meanwhile: what is asked of it in here still holds when it is done."""
        with self._locks[name]:
            yield

    @contextmanager
    def whole(self, name: str) -> Iterator[BinaryIO]:
        """The bytes of a clip that is all here, for one at a time; Unknown where they are gone."""
        with self.held(name), self._opened(name) as stream:
            yield stream

    def path(self, name: str) -> Path:
        """Where a clip grows; from when it is closed on it lies there no more."""
        return self._bytes(name)

    def close(self, name: str, clip: ArrivingClip, set_id: int, known: bool) -> ArrivingClip:
        """Remember the set that a clip became; its bytes are the store's from now on."""
        closed = replace(clip, set_id=set_id, known=known)
        with self.held(name), _on_disk():
            self._write(name, closed)
            self._bytes(name).unlink(missing_ok=True)
            self._turns.pop(name, None)
        return closed

    def drop(self, name: str) -> None:
        """Throw a clip away."""
        with self.held(name):
            shutil.rmtree(self._of(name), ignore_errors=True)
            self._turns.pop(name, None)

    def whole_ones(self) -> list[tuple[str, ArrivingClip]]:
        """Name and clip of those that are all here and of which nothing was made yet."""
        waiting = [(name, clip) for name, clip in self._all() if clip.set_id is None]
        return [(name, clip) for name, clip in waiting if self._size(name) == clip.length]

    def under_way(self, owner: int) -> int:
        """Bytes of all that someone has begun to send and that is not in the store yet."""
        return sum(c.length for _, c in self._all() if c.owner == owner and c.set_id is None)

    def tidy(self) -> None:
        """Drop what nobody has gone on with for long."""
        for folder in self.folder.glob("*"):
            newest = max((p.stat().st_mtime for p in folder.glob("*")), default=folder.stat().st_mtime)
            if time.time() - newest > self._waits_s:
                self.drop(folder.name)

    def forget(self, person_id: int) -> None:
        """Drop all that a person sends, and all that is sent of them."""
        for name, clip in list(self._all()):
            if person_id in (clip.owner, json.loads(clip.told).get("person")):
                self.drop(name)

    def _all(self) -> Iterator[tuple[str, ArrivingClip]]:
        for told in self.folder.glob("*/told.json"):
            try:
                yield told.parent.name, ArrivingClip(**json.loads(told.read_text(encoding="utf-8")))
            except FileNotFoundError:
                continue  # dropped just now

    def _of(self, name: str) -> Path:
        if not _NAME.fullmatch(name):
            raise Unknown
        return self.folder / name

    def _bytes(self, name: str) -> Path:
        return self._of(name) / "clip"

    def _opened(self, name: str) -> BinaryIO:
        with _on_disk():
            try:
                return self._bytes(name).open("rb")
            except FileNotFoundError:
                raise Unknown from None

    def _size(self, name: str) -> int:
        try:
            return self._bytes(name).stat().st_size
        except FileNotFoundError:
            raise Unknown from None

    def _write(self, name: str, clip: ArrivingClip) -> None:
        part = self._of(name) / "told.part"
        with part.open("w", encoding="utf-8") as out:
            json.dump(asdict(clip), out)
            out.flush()
            os.fsync(out.fileno())
        part.replace(self._of(name) / "told.json")


@lru_cache(maxsize=8)
def arriving(files: Path) -> Arriving:
    """The clips on their way beside a store's files; one for the process, as it knows whose turn it is."""
    return Arriving(files / ".arriving")


@lru_cache(maxsize=8)
def at_stations(files: Path) -> Arriving:
    """What stations film, on its way; apart from what people send, and gone much sooner."""
    return Arriving(files / ".station", STATION_WAITS_S)


@contextmanager
def _on_disk() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise not_kept(error) from error
