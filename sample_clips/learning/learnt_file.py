"""Write ``vision/data/<exercise>.toml``: what a command learnt, beside what the others did."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from shared.definition import read_toml
from vision.measuring.learnt.data import FOLDER, UNLEARNT_DURATION_S, UNLEARNT_TURN_RATIO, Learnt
from vision.telling.files import write_text

HEADER = """\
# Written by the commands in sample_clips/learning from rendered clips with exact truth; nothing here
# comes from people. vision/measuring/learnt/data.py says what each number is.
"""


def update(exercise: str, table: str, values: Any, learnt_on: str, folder: Path = FOLDER) -> None:
    """Put one quantity or table of an exercise into its file and say from which clips it was learnt.

    Raises DefinitionError where the file there cannot be read, ValueError for a table that is not known.
    """
    path = folder / f"{exercise}.toml"
    empty = {"learnt_on": {}, "duration_s": UNLEARNT_DURATION_S, "turn_ratio": UNLEARNT_TURN_RATIO}
    found: dict[str, Any] = read_toml(path) if path.exists() else empty
    found[table] = values
    found["learnt_on"] = {**found["learnt_on"], table: learnt_on}
    Learnt.model_validate(found)
    write_text(path, HEADER + _toml(found))


def _toml(found: Mapping[str, Any]) -> str:
    """Plain values first, then one table each; a table within a table stands on one line."""
    plain = [f"{name} = {_value(v)}" for name, v in found.items() if not isinstance(v, Mapping)]
    tables = []
    for name, table in found.items():
        if isinstance(table, Mapping) and table:
            tables.append("\n".join([f"\n[{name}]", *(f"{key} = {_value(v)}" for key, v in table.items())]))
    return "\n".join([*plain, *tables]) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_value(v)}" for key, v in value.items()) + " }"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return f"{value:g}"
