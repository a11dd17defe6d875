"""Clips and pictures as files named by the hash of what is in them."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from shared.errors import InternalError, UsageError

_ADDRESS = re.compile(r"[0-9a-f]{64}")
_CHUNK = 1 << 20


class Files:
    """A folder in which the same content is kept once; a file is there whole or not at all."""

    def __init__(self, folder: Path):
        self.folder = folder

    def keep(self, source: BinaryIO) -> str:
        """Keep what the stream gives and return its address.

        Raises
        ------
        UsageError : the folder cannot be written to, or the disk is full.
        """
        part: Path | None = None
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, name = tempfile.mkstemp(prefix=".part-", dir=self.folder)
            part = Path(name)
            with os.fdopen(handle, "wb") as out:
                address = self._copy(source, out)
                out.flush()
                os.fsync(out.fileno())
            place = self._place(address)
            place.parent.mkdir(exist_ok=True, mode=0o700)
            part.replace(place)
            _sync(place.parent)
        except OSError as error:
            raise not_kept(error) from error
        finally:
            if part is not None:
                part.unlink(missing_ok=True)
        return address

    def _copy(self, source: BinaryIO, out: BinaryIO) -> str:
        digest = hashlib.sha256()
        while chunk := source.read(_CHUNK):
            digest.update(chunk)
            out.write(chunk)
        return digest.hexdigest()

    def open(self, address: str) -> BinaryIO:
        """The content with that address, to be read and closed.

        Raises
        ------
        InternalError : it is not there. OSError : it cannot be read.
        """
        return self.path(address).open("rb")

    @contextmanager
    def work(self, name: str = "") -> Iterator[Path]:
        """A folder to work in, gone afterwards; what a killed process left, ``app.store.retention`` drops.

        name: what it is known by, such as ``set7``.

        Raises
        ------
        UsageError : the folder cannot be written to, or the disk is full.
        """
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            made = tempfile.TemporaryDirectory(
                prefix=f".work-{name}-", dir=self.folder, ignore_cleanup_errors=True
            )
        except OSError as error:
            raise not_kept(error) from error
        with made as folder:
            yield Path(folder)

    @staticmethod
    def is_address(name: str) -> bool:
        """Whether a name is the address of a content."""
        return _ADDRESS.fullmatch(name) is not None

    def addresses(self) -> Iterator[str]:
        """The addresses of all that is kept."""
        for path in self.folder.glob("[0-9a-f][0-9a-f]/*"):
            if self.is_address(path.name):
                yield path.name

    def forget(self, wanted: set[str], older_s: float) -> None:
        """Remove copies of what is kept elsewhere, unless wanted or younger than so many seconds."""

    def there(self, address: str) -> bool:
        """Whether the content with that address is kept."""
        return self._place(address).is_file()

    def kept_at(self, address: str) -> float:
        """When the content with that address was last kept, in s since 1970; now where that is unknown."""
        try:
            return self._place(address).stat().st_mtime
        except OSError:
            return time.time()

    def sound(self, address: str) -> bool:
        """Whether what is kept under an address is what it says; reads the whole file."""
        try:
            with self._place(address).open("rb") as stream:
                return hashlib.file_digest(stream, "sha256").hexdigest() == address
        except OSError:
            return False

    def drop(self, address: str) -> None:
        """Remove a content for good; nothing happens where it is not kept.

        Raises
        ------
        InternalError : it cannot be removed.
        """
        try:
            self._place(address).unlink(missing_ok=True)
        except OSError as error:
            raise InternalError(
                f"A file could not be removed from the data folder ({error.strerror}); "
                "make the folder writable and try again."
            ) from error

    def path(self, address: str) -> Path:
        """Where the content with that address lies.

        Raises
        ------
        InternalError : it is not there.
        """
        place = self._place(address)
        if not place.is_file():
            raise InternalError(
                "A file of this set is missing from the data folder; restore it from a backup."
            )
        return place

    def _place(self, address: str) -> Path:
        if not self.is_address(address):
            raise InternalError("A file address of the store is damaged.")
        return self.folder / address[:2] / address


def not_kept(error: OSError) -> UsageError:
    """What to tell where a file cannot be written."""
    what = "free some space" if error.errno in (errno.ENOSPC, errno.EDQUOT) else "look after the data folder"
    return UsageError(f"The file could not be kept ({error.strerror}); {what}, try again.")


def _sync(folder: Path) -> None:
    """Have a new name in a folder outlast a power cut, where the system lets a folder be synced."""
    if sys.platform == "win32":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
