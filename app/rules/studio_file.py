"""What a studio says of itself, ``studio.toml`` in its data folder: what page and commands go by."""

from __future__ import annotations

from pathlib import Path

from app.rules.load_settings import Settings
from shared.definition import Strict, checked, read_toml

NAME = "studio.toml"


class StudioFile(Strict):
    """load: the rule, the steps and the stacks that the question about the load goes by."""

    load: Settings = Settings()


def read_studio(data: Path) -> StudioFile:
    """The studio's file in that data folder, or what goes without one.

    Raises
    ------
    DefinitionError : naming the key and what is wrong with it.
    """
    path = data / NAME
    return checked(StudioFile, read_toml(path), path) if path.is_file() else StudioFile()
