"""Where the store lives: two settings, read from the environment."""

from __future__ import annotations

import os
import sys
from dataclasses import dataclass
from pathlib import Path

DATABASE_URL = "PLUMBSET_DATABASE_URL"
DATA = "PLUMBSET_DATA"


@dataclass(frozen=True)
class StoreSettings:
    """database_url: any of SQLite and PostgreSQL; data: the folder of clips and pictures."""

    database_url: str
    data: Path


def default_data() -> Path:
    """The data folder of this person on this system."""
    home = Path.home()
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA", home / "AppData" / "Local")) / "plumbset"
    if sys.platform == "darwin":
        return home / "Library" / "Application Support" / "plumbset"
    return Path(os.environ.get("XDG_DATA_HOME", home / ".local" / "share")) / "plumbset"


def store_settings() -> StoreSettings:
    """The settings of this process; SQLite inside the data folder unless a database is named."""
    data = Path(os.environ.get(DATA) or default_data()).expanduser().absolute()
    url = os.environ.get(DATABASE_URL) or f"sqlite:///{data / 'plumbset.db'}"
    if url.startswith(("postgres://", "postgresql://")):
        url = "postgresql+psycopg://" + url.split("://", 1)[1]
    return StoreSettings(url, data)
