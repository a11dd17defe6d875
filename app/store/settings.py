"""Where the store lives and how long it keeps clips, read from the environment."""

from __future__ import annotations

import os
import re
import sys
from dataclasses import dataclass, field
from pathlib import Path

from shared.errors import UsageError

DATABASE_URL = "PLUMBSET_DATABASE_URL"
DATABASE_URL_FILE = "PLUMBSET_DATABASE_URL_FILE"
DATA = "PLUMBSET_DATA"
FILES_URL = "PLUMBSET_FILES_URL"
KEEP_CLIPS_DAYS = "PLUMBSET_KEEP_CLIPS_DAYS"
NEW_FOR_SETS = "PLUMBSET_NEW_FOR_SETS"
SCHEDULER = "PLUMBSET_SCHEDULER"


@dataclass(frozen=True)
class StoreSettings:
    """database_url: any of SQLite and PostgreSQL; data: the folder of clips and pictures.

    files_url: where clips and pictures lie instead, any URL that fsspec knows.
    keep_clips_days: so long a clip as it was sent is kept; a quarter, our choice, no legal limit.
    scheduler: address of a Dask scheduler whose workers check the clips; None: this machine does.
    new_for_sets: after so many sets a trainer is asked whether a member is still new; common practice, no
    published source.
    """

    database_url: str = field(repr=False)  # it may hold a password
    data: Path
    keep_clips_days: int = 90
    files_url: str | None = field(default=None, repr=False)  # it may hold a key
    scheduler: str | None = None
    new_for_sets: int = 12


def default_data() -> Path:
    """The data folder of this person on this system."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local")) / "plumbset"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "plumbset"
    return Path(os.environ.get("XDG_DATA_HOME", home / ".local" / "share")) / "plumbset"


def data_folder() -> Path:
    """The data folder of this process."""
    return Path(os.environ.get(DATA) or default_data()).expanduser().absolute()


def store_settings() -> StoreSettings:
    """The settings of this process; SQLite inside the data folder unless a database is named.

    Raises
    ------
    UsageError : a setting makes no sense, or a file with a secret may be read by others.
    """
    data = data_folder()
    url = _secret(DATABASE_URL, DATABASE_URL_FILE) or f"sqlite:///{data / 'plumbset.db'}"
    if url.startswith(("postgres://", "postgresql://")):
        url = "postgresql+psycopg://" + url.split("://", 1)[1]
    return StoreSettings(
        url,
        data,
        keep_clips_days=_whole(KEEP_CLIPS_DAYS, "of days, such as 90") or StoreSettings.keep_clips_days,
        files_url=os.environ.get(FILES_URL) or None,
        scheduler=os.environ.get(SCHEDULER) or None,
        new_for_sets=_whole(NEW_FOR_SETS, "of sets, such as 12") or StoreSettings.new_for_sets,
    )


def _secret(name: str, file_name: str) -> str | None:
    """A secret from the environment, or from a file that only its owner may read."""
    place = os.environ.get(file_name)
    if os.environ.get(name) or not place:
        return os.environ.get(name)
    try:
        if sys.platform != "win32" and Path(place).stat().st_mode & 0o077:
            raise UsageError(f"The file that {file_name} names may be read by others; run chmod 600 on it.")
        return Path(place).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeError) as error:
        raise UsageError(f"The file that {file_name} names cannot be read; check it.") from error


def _whole(name: str, what: str) -> int | None:
    text = os.environ.get(name)
    if not text:
        return None
    if not re.fullmatch(r"[1-9][0-9]{0,4}", text, re.ASCII):
        raise UsageError(f"{name} must be a number {what}.")
    return int(text)
