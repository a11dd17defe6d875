"""``plumbset --version``: Plumbset itself, its models and what was learnt, each to be told from any other."""

from __future__ import annotations

import hashlib
from importlib.metadata import version
from importlib.resources import files
from pathlib import Path

from app.jobs.netless import means

#: So many digits of a SHA-256 tell files apart well enough for people.
DIGITS = 12


def version_lines(vision: Path | None = None) -> list[str]:
    """One line each. vision: the folder with the models and the learnt data, the installed one by itself."""
    vision = Path(str(files("vision"))) if vision is None else vision
    data = sorted(f for f in (vision / "data").iterdir() if f.suffix != ".md")
    digests = [f"{file.name} {_digest(file)}\n" for file in data]
    whole = hashlib.sha256("".join(digests).encode()).hexdigest()
    return [
        f"plumbset {version('plumbset')}",
        *(f"model {m.name} sha256 {_digest(m)[:DIGITS]}" for m in sorted((vision / "models").glob("*.task"))),
        f"learnt data of {len(data)} files sha256 {whole[:DIGITS]}",
        f"clips are read {means()}",
    ]


def _digest(file: Path) -> str:
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
