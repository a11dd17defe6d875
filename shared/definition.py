"""A small file that people write -> a checked model, with every fault named by its key."""

from __future__ import annotations

import difflib
import json
import os
import stat
import tomllib
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from shared.errors import DefinitionError

#: The largest file that is read whole: the longest of ours is a fiftieth of that.
MAX_BYTES = 1_000_000
#: Faults that are named, and the longest text in which their lines are looked for.
MOST_NAMED, _WITH_LINES = 20, 20_000
Model = TypeVar("Model", bound=BaseModel)
Text = Annotated[str, Field(min_length=3)]
#: pydantic names the branch of a union that failed; no file has such a key.
_UNION_TAGS = ("float", "Length")
_PLAIN = {"extra_forbidden": "is not a known key", "missing": "is missing"}


class Strict(BaseModel):
    """A table of a definition file: what it does not know is refused, and so are inf and nan."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


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


def faults_of(error: ValidationError, text: str = "") -> list[tuple[str, str]]:
    """One (key, message) a fault, keys joined by dots as in the file.

    text: the TOML file; the message then ends with the line of every key that stands in it, where it is no
    longer than people write. Of many faults the first are given.
    """
    found: dict[str, str] = {}
    for one in error.errors()[:MOST_NAMED]:
        message = str(one["msg"]).removeprefix("Value error, ")
        said = _PLAIN.get(one["type"], message[:1].lower() + message[1:])
        parts = [part for part in one["loc"] if part not in _UNION_TAGS]
        line = line_of(text, parts) if len(text) <= _WITH_LINES else None
        found.setdefault(".".join(map(str, parts)), said if line is None else f"{said} (line {line})")
    return list(found.items())


def line_of(text: str, key: Sequence[str | int]) -> int | None:
    """The line, from 1, on which a key of a TOML text is given; None where it is not there.

    key: names of tables and places in arrays on the way to it. TOML itself says where: a key stands on the
    first line that must be read for it to be known. A key inside an array of several lines has that array's.
    """
    lines = text.split("\n")

    def known(count: int) -> bool:
        """Whether the first lines give the key, read on to where the last of them is complete."""
        for end in range(count, len(lines) + 1):
            try:
                return _holds(tomllib.loads("\n".join(lines[:end])), key)
            except tomllib.TOMLDecodeError:
                continue
        return False

    found = bisect_left(range(1, len(lines) + 1), True, key=known) + 1
    return found if key and found <= len(lines) else None


def _holds(data: Any, key: Sequence[str | int]) -> bool:
    for part in key:
        try:
            data = data[part]
        except (KeyError, IndexError, TypeError):
            return False
    return True


def read_bounded(path: Path, most: int, what: str) -> bytes:
    """The bytes of a plain file: a pipe is not waited for, and a file without end is not read to it.

    most: bytes; what: the kind of file, for the sentence about one that is too large.

    Raises
    ------
    DefinitionError : it cannot be read, is no plain file, or too large.
    """
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        try:
            if not stat.S_ISREG(os.fstat(handle).st_mode):
                raise DefinitionError(path, [("", "cannot be read: it is no plain file")])
            with open(handle, "rb", closefd=False) as file:
                data = file.read(most + 1)
        finally:
            os.close(handle)
    except OSError as error:
        raise DefinitionError(path, [("", f"cannot be read: {error.strerror}")]) from error
    if len(data) > most:
        raise DefinitionError(path, [("", f"is larger than {most // 1_000_000} MB, which no {what} is")])
    return data


def read_text(path: Path) -> str:
    """A small file of UTF-8 text, a byte order mark or none before it; DefinitionError: it cannot be read."""
    try:
        return read_bounded(path, MAX_BYTES, "file of this kind").decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DefinitionError(path, [("", f"is not valid UTF-8: {error}")]) from error


def read_toml(path: Path) -> dict[str, Any]:
    """A TOML file as a dict; DefinitionError, with the line, when it cannot be read."""
    try:
        return tomllib.loads(read_text(path))
    except tomllib.TOMLDecodeError as error:
        raise DefinitionError(path, [("", f"is not valid TOML: {error}")]) from error
    except RecursionError:
        raise DefinitionError(path, [("", "is nested too deeply; write it flatter")]) from None


def read_json(path: Path) -> Any:
    """What a JSON file holds; DefinitionError when it cannot be read."""
    try:
        return json.loads(read_text(path))
    except (ValueError, RecursionError) as error:
        raise DefinitionError(path, [("", f"is not valid JSON: {error}")]) from error


def hint(name: str, known: Mapping[str, object] | list[str]) -> str:
    """`` (did you mean 'knee'?)`` for a near miss, else the list of known names."""
    near = difflib.get_close_matches(name, list(known), n=1)
    return f" (did you mean {near[0]!r}?)" if near else f" (there are: {', '.join(sorted(known))})"
