"""Clips and pictures at any address that fsspec knows (a bucket, a share), with the data folder as a cache.

Content never changes under its address, so what lies in the cache is never out of date; the folder may
be emptied while no clip is being checked.
"""

from __future__ import annotations

import errno
import hashlib
import os
import secrets
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO, TypeVar

from app.reading.failures import missing_extra
from app.store.files import Files, not_kept
from app.store.settings import FILES_URL, StoreSettings
from shared.errors import InternalError, UsageError

_CHUNK = 1 << 20
#: So long, in s, is waited before each further try; every step may be done again without harm.
PAUSES_S = (0.5, 2.0, 8.0)
SILENT = "The studio's store of clips does not answer; nothing is lost, try again later."
T = TypeVar("T")


def files_of(settings: StoreSettings) -> Files:
    """The clips and pictures of a store: in its data folder, or at the URL that the settings name.

    Raises
    ------
    UsageError : the URL names nothing that can be reached.
    """
    folder = settings.data / "files"
    return Files(folder) if settings.files_url is None else RemoteFiles(settings.files_url, folder)


class RemoteFiles(Files):
    """Files whose truth lies at a URL; ``folder`` holds copies of those that were needed here."""

    def __init__(self, url: str, folder: Path):
        super().__init__(folder)
        self._url = url
        _ = self._place_of  # a wrong URL is told at the start

    @cached_property
    def _place_of(self) -> tuple[Any, str]:
        """The file system, and the path in it under which all lies."""
        try:
            import fsspec
        except ModuleNotFoundError as error:
            raise missing_extra("fsspec") from error
        try:
            system, root = fsspec.core.url_to_fs(self._url)
        except (ImportError, ValueError, OSError) as error:
            raise UsageError(
                f"{FILES_URL} names no place that can be used ({type(error).__name__}); check it, and "
                "install the fsspec package of its kind."
            ) from error
        return system, str(root).rstrip("/")

    def keep(self, source: BinaryIO) -> str:
        """See ``Files.keep``; the content is at the URL before its address is given back."""
        address = super().keep(source)
        system, target = self._at(address)

        def put() -> None:
            if system.exists(target):
                return
            part = f"{target}.part-{secrets.token_hex(6)}"
            system.makedirs(str(PurePosixPath(target).parent), exist_ok=True)
            try:
                system.put_file(str(self._place(address)), part)
                system.mv(part, target)
            except Exception:
                with suppress(Exception):
                    system.rm_file(part)
                raise

        try:
            _persistently(put)
        except InternalError as error:
            what = type(error.__cause__).__name__
            raise UsageError(
                f"The file could not be kept in the studio's store ({what}); try again."
            ) from error
        return address

    def addresses(self) -> Iterator[str]:
        """See ``Files.addresses``."""
        system, root = self._place_of
        found = _persistently(lambda: system.find(root) if system.exists(root) else [])
        names = {PurePosixPath(str(name)).name for name in found}
        yield from sorted(name for name in names if self.is_address(name))

    def forget(self, wanted: set[str], older_s: float) -> None:
        """See ``Files.forget``; another machine may have dropped them at the URL."""
        for address in set(super().addresses()) - wanted:
            place = self._place(address)
            with suppress(OSError):
                if time.time() - place.stat().st_mtime > older_s:
                    place.unlink()

    def there(self, address: str) -> bool:
        """See ``Files.there``."""
        system, target = self._at(address)
        return _persistently(lambda: bool(system.exists(target)))

    def kept_at(self, address: str) -> float:
        """See ``Files.kept_at``."""
        system, target = self._at(address)
        try:
            return float(system.modified(target).timestamp())
        except Exception:  # noqa: BLE001 - each kind of store raises errors of its own, some do not know
            return time.time()

    def sound(self, address: str) -> bool:
        """See ``Files.sound``; reads what lies at the URL."""
        system, target = self._at(address)

        def digest() -> str:
            found = hashlib.sha256()
            with system.open(target, "rb") as stream:
                while chunk := stream.read(_CHUNK):
                    found.update(chunk)
            return found.hexdigest()

        try:
            return _persistently(digest) == address
        except FileNotFoundError:
            return False

    def drop(self, address: str) -> None:
        """See ``Files.drop``; the copy goes too."""
        super().drop(address)
        system, target = self._at(address)

        def remove() -> None:
            if system.exists(target):
                system.rm_file(target)

        _persistently(remove)

    def path(self, address: str) -> Path:
        """See ``Files.path``; fetched first where it is not here yet.

        Raises
        ------
        InternalError : it is not there, or the store does not answer. UsageError : no room for it here.
        """
        if not super().there(address):
            with suppress(FileNotFoundError):  # ``Files.path`` says it
                self._fetch(address)
        return super().path(address)

    def _at(self, address: str) -> tuple[Any, str]:
        local = self._place(address)  # refuses what is no address
        system, root = self._place_of
        return system, f"{root}/{local.parent.name}/{local.name}"

    def _fetch(self, address: str) -> None:
        """Copy a content here; it is there whole and sound, or not at all."""
        system, source = self._at(address)
        place = self._place(address)
        try:
            place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle, name = tempfile.mkstemp(prefix=".part-", dir=self.folder)
        except OSError as error:
            raise not_kept(error) from error
        os.close(handle)
        part = Path(name)
        try:
            _persistently(lambda: system.get_file(source, name))
            with part.open("rb") as stream:
                whole = hashlib.file_digest(stream, "sha256").hexdigest() == address
            if whole:
                part.replace(place)
        except InternalError as error:
            if isinstance(error.__cause__, OSError) and _is_full(error.__cause__):
                raise not_kept(error.__cause__) from error
            raise
        finally:
            part.unlink(missing_ok=True)


def _persistently(step: Callable[[], T]) -> T:
    """What a step at the URL returns, tried again while it fails.

    Raises
    ------
    FileNotFoundError : as the step raised it. InternalError : whatever else it raised at last; each kind
        of store raises errors of its own.
    """
    pauses = iter(PAUSES_S)
    while True:
        try:
            return step()
        except FileNotFoundError:
            raise
        except Exception as error:
            pause = next(pauses, None)
            if pause is None or _is_full(error):
                raise InternalError(SILENT) from error
        _wait(pause)


def _is_full(error: BaseException | None) -> bool:
    """Whether it is the disk here that has no room."""
    return isinstance(error, OSError) and error.errno == errno.ENOSPC


def _wait(seconds: float) -> None:
    threading.Event().wait(seconds)
