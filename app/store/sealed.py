"""Files of a backup sealed with a key: Fernet of the package cryptography, piece by piece.

A sealed file is one token a line, the last of which holds the SHA-256 of all that was sealed, so that no
piece can be left out, put elsewhere or taken from another file unnoticed.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from app.reading.failures import missing_extra
from app.store.files import Files
from shared.errors import InternalError, UsageError

_PIECE = 1 << 20
#: A piece takes a third more as a token, and a little.
_LONGEST = 2 * _PIECE
_LAST = b"sha256 "
NOT_OPENED = "A file of the backup does not open with this key, or is damaged."


class Seal:
    """One key."""

    def __init__(self, key: bytes):
        try:
            from cryptography.fernet import Fernet
        except ModuleNotFoundError as error:
            raise missing_extra("cryptography") from error
        try:
            self._fernet = Fernet(key)
        except ValueError as error:
            raise UsageError("The key file holds no key; make one with plumbset backup-key.") from error

    def close(self, source: BinaryIO, out: BinaryIO) -> str:
        """Seal all that the source gives; returns its SHA-256."""
        digest = hashlib.sha256()
        while piece := source.read(_PIECE):
            digest.update(piece)
            out.write(self._fernet.encrypt(b" " + piece) + b"\n")
        out.write(self._fernet.encrypt(_LAST + digest.digest()) + b"\n")
        return digest.hexdigest()

    def open(self, sealed: BinaryIO, out: BinaryIO) -> str:
        """Write what was sealed; returns its SHA-256.

        Raises
        ------
        InternalError : the key does not fit, or it is not whole.
        """
        from cryptography.fernet import InvalidToken

        digest = hashlib.sha256()
        with suppress(InvalidToken):
            while token := sealed.readline(_LONGEST):
                piece = self._fernet.decrypt(token.rstrip(b"\n"))
                if piece.startswith(_LAST):
                    if piece == _LAST + digest.digest() and not sealed.read(1):
                        return digest.hexdigest()
                    break
                digest.update(piece[1:])
                out.write(piece[1:])
        raise InternalError(NOT_OPENED)


class SealedFiles(Files):
    """Files of a backup, each sealed; the address is that of what was sealed."""

    def __init__(self, folder: Path, seal: Seal):
        super().__init__(folder)
        self._seal = seal

    def _copy(self, source: BinaryIO, out: BinaryIO) -> str:
        return self._seal.close(source, out)

    def sound(self, address: str) -> bool:
        """See ``Files.sound``."""
        try:
            self.open(address).close()
        except (OSError, InternalError):
            return False
        return True

    def open(self, address: str) -> BinaryIO:
        """See ``Files.open``; InternalError also where it does not open with this key."""
        out: BinaryIO = tempfile.TemporaryFile()  # noqa: SIM115 - whoever reads it closes it
        try:
            with super().open(address) as sealed:
                if self._seal.open(sealed, out) != address:
                    raise InternalError(NOT_OPENED)
        except BaseException:
            out.close()
            raise
        out.seek(0)
        return out


def make_key(place: Path) -> None:
    """Write a new key into a file of its owner's.

    Raises
    ------
    UsageError : there is such a file, or it cannot be written.
    """
    try:
        from cryptography.fernet import Fernet
    except ModuleNotFoundError as error:
        raise missing_extra("cryptography") from error
    try:
        handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as out:
            out.write(Fernet.generate_key() + b"\n")
    except OSError as error:
        raise UsageError(f"The key could not be written to {place.name} ({error.strerror}).") from error


def seal_of(key_file: Path | None) -> Seal | None:
    """The seal of a key file that only its owner may read; None without one.

    Raises
    ------
    UsageError : it cannot be read, others may read it, or it holds no key.
    """
    if key_file is None:
        return None
    try:
        if sys.platform != "win32" and key_file.stat().st_mode & 0o077:
            raise UsageError(f"{key_file.name} may be read by others; run chmod 600 on it.")
        if not key_file.is_file():
            raise UsageError(f"{key_file.name} is no file; make a key with plumbset backup-key.")
        with key_file.open("rb") as stream:
            return Seal(stream.read(1000).strip())
    except OSError as error:
        raise UsageError(f"The key file {key_file.name} cannot be read ({error.strerror}).") from error
