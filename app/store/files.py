"""Clips and pictures as files named by the hash of what is in them."""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
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
        digest = hashlib.sha256()
        part: Path | None = None
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, name = tempfile.mkstemp(prefix=".part-", dir=self.folder)
            part = Path(name)
            with os.fdopen(handle, "wb") as out:
                while chunk := source.read(_CHUNK):
                    digest.update(chunk)
                    out.write(chunk)
                out.flush()
                os.fsync(out.fileno())
            place = self._place(digest.hexdigest())
            place.parent.mkdir(exist_ok=True, mode=0o700)
            part.replace(place)
        except OSError as error:
            raise UsageError(
                f"The file could not be kept ({error.strerror}); free some space, try again."
            ) from error
        finally:
            if part is not None:
                part.unlink(missing_ok=True)
        return digest.hexdigest()

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
        if not _ADDRESS.fullmatch(address):
            raise InternalError("A file address of the store is damaged.")
        return self.folder / address[:2] / address
