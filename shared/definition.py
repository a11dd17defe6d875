"""A small file that people write -> a checked model, with every fault named by its key."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from shared.errors import DefinitionError

Model = TypeVar("Model", bound=BaseModel)
#: pydantic names the branch of a union that failed; no file has such a key.
_UNION_TAGS = ("float", "Length")
_PLAIN = {"extra_forbidden": "is not a known key", "missing": "is missing"}


def checked(model: type[Model], data: Any, file: Path) -> Model:
    """The data as that model.

    Raises
    ------
    DefinitionError : naming the file and, for every fault, the key and what is wrong with it.
    """
    try:
        return model.model_validate(data)
    except ValidationError as error:
        raise DefinitionError(file, faults_of(error)) from error


def faults_of(error: ValidationError) -> list[tuple[str, str]]:
    """One (key, message) a fault, keys joined by dots as in the file."""
    found: dict[str, str] = {}
    for one in error.errors():
        message = str(one["msg"]).removeprefix("Value error, ")
        said = _PLAIN.get(one["type"], message[:1].lower() + message[1:])
        parts = [str(part) for part in one["loc"] if part not in _UNION_TAGS]
        found.setdefault(".".join(parts), said)
    return list(found.items())


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file as a dict; DefinitionError, with the line, when it cannot be read."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise DefinitionError(path, [("", f"is not valid TOML: {error}")]) from error
    except OSError as error:
        raise DefinitionError(path, [("", f"cannot be read: {error.strerror}")]) from error
