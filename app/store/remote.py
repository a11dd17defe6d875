"""Clips and pictures at any address that fsspec knows (a bucket, a share), with the data folder as a cache.

Content never changes under its address, so what lies in the cache is never out of date; the folder may
be emptied while no clip is being checked.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import tempfile
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path, PurePosixPath
from typing import Any, BinaryIO

from app.store.files import Files
from app.store.settings import FILES_URL, StoreSettings
from shared.errors import InternalError, UsageError

_CHUNK = 1 << 20


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
        part = f"{target}.part-{secrets.token_hex(6)}"
        try:
            if not system.exists(target):
                system.makedirs(str(PurePosixPath(target).parent), exist_ok=True)
                system.put_file(str(self._place(address)), part)
                system.mv(part, target)
        except Exception as error:  # each kind of store raises errors of its own
            raise UsageError(
                f"The file could not be kept in the studio's store ({type(error).__name__}); try again."
            ) from error
        return address

    def addresses(self) -> Iterator[str]:
        """See ``Files.addresses``."""
        system, root = self._place_of
        if system.exists(root):
            names = {PurePosixPath(str(name)).name for name in system.find(root)}
            yield from sorted(name for name in names if self.is_address(name))

    def there(self, address: str) -> bool:
        """See ``Files.there``."""
        system, target = self._at(address)
        return bool(system.exists(target))

    def sound(self, address: str) -> bool:
        """See ``Files.sound``; reads what lies at the URL."""
        system, target = self._at(address)
        digest = hashlib.sha256()
        try:
            with system.open(target, "rb") as stream:
                while chunk := stream.read(_CHUNK):
                    digest.update(chunk)
        except OSError:
            return False
        return digest.hexdigest() == address

    def drop(self, address: str) -> None:
        """See ``Files.drop``; the copy goes too."""
        super().drop(address)
        system, target = self._at(address)
        if system.exists(target):
            system.rm_file(target)

    def path(self, address: str) -> Path:
        """See ``Files.path``; fetched first where it is not here yet."""
        if not super().there(address):
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
        place.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle, name = tempfile.mkstemp(prefix=".part-", dir=self.folder)
        digest = hashlib.sha256()
        try:
            with os.fdopen(handle, "wb") as out, system.open(source, "rb") as stream:
                while chunk := stream.read(_CHUNK):
                    digest.update(chunk)
                    out.write(chunk)
            if digest.hexdigest() == address:
                Path(name).replace(place)
        except FileNotFoundError:
            return  # ``path`` says it
        except Exception as error:  # each kind of store raises errors of its own
            raise InternalError("The studio's store of clips does not answer; try again later.") from error
        finally:
            Path(name).unlink(missing_ok=True)
