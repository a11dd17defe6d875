"""The folders of a batch's reports. A result counts when its record is there, and that comes last."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from pydantic import ValidationError

from app.batches.clip import ClipJob, ClipOutcome
from app.batches.list import Entry
from shared.errors import UsageError
from shared.report import SetReport
from vision.judging.options import Options

RECORD, REPORT = "record.json", "report.json"


def folder_name(entry: Entry) -> str:
    """A folder's name that stays the same from run to run and differs for every entry of a batch."""
    which = "\n".join((entry.shown, entry.exercise.name, entry.options.side or ""))
    return f"{stem_of(entry.shown.split('?', 1)[0])}-{_sha256([which.encode()])[:10]}"


def stem_of(name: str) -> str:
    """A file's name without its ending, in letters that every file system takes."""
    return re.sub(r"[^A-Za-z0-9_]+", "-", PurePosixPath(name).stem)[:40].strip("-") or "clip"


@dataclass(frozen=True)
class Results:
    """What lies in the folder ``out``, one folder a clip."""

    out: Path

    def recorded(self, job: ClipJob) -> str | None:
        """SHA-256 of the clip that a result was made of, if it is whole and was made as ``job`` asks."""
        folder = self.out / job.name
        try:
            record = json.loads((folder / RECORD).read_text(encoding="utf-8"))
            made_as, clip, files = record["made_as"], record["clip"], record["files"]
            whole = isinstance(files, list) and all((folder / str(name)).is_file() for name in files)
        except (OSError, ValueError, KeyError, TypeError):
            return None
        return clip if whole and made_as == _made_as(job) and isinstance(clip, str) else None

    def report(self, job: ClipJob) -> SetReport | None:
        """The report of a result; None where it cannot be read."""
        try:
            return SetReport.from_json((self.out / job.name / REPORT).read_text(encoding="utf-8"))
        except (OSError, ValueError, ValidationError):
            return None

    def keep(self, job: ClipJob, outcome: ClipOutcome) -> None:
        """Put a result in its place, whole, instead of an older one.

        Raises
        ------
        UsageError : the folder cannot be written to.
        """
        part, place = self.out / f".part-{job.name}", self.out / job.name
        record = {"made_as": _made_as(job), "clip": outcome.sha256, "files": sorted(outcome.files)}
        text = json.dumps(record, indent=2, sort_keys=True) + "\n"
        try:
            shutil.rmtree(part, ignore_errors=True)
            part.mkdir(parents=True)
            for name, data in (*sorted(outcome.files.items()), (RECORD, text.encode())):
                with (part / name).open("wb") as file:
                    file.write(data)
                    file.flush()
                    os.fsync(file.fileno())
            if place.exists():
                shutil.rmtree(place)
            part.rename(place)
        except OSError as error:
            raise UsageError(
                f"The folder {self.out} cannot be written to ({error.strerror}); what was reported before is "
                "kept, free some space and run the same command again."
            ) from error


def _made_as(job: ClipJob) -> dict[str, str]:
    """All that a result depends on beside the clip itself."""
    return {
        "plumbset": job.version,
        "definition": _sha256([job.exercise.model_dump_json().encode()]),
        "options": _sha256(_parts(job.options)),
    }


def _parts(options: Options) -> Iterable[bytes]:
    said: dict[str, Any] = {"side": options.side, "height_cm": options.height_cm, "cleared": options.cleared}
    yield json.dumps(said, sort_keys=True).encode()
    yield b"" if options.member is None else options.member.model_dump_json().encode()
    if options.reference is not None:
        yield options.reference.report.to_json().encode()
        for name, trace in sorted(options.reference.traces.items()):
            yield from (name.encode(), trace.time_s.tobytes(), trace.values.tobytes())
    if options.proof is not None:
        yield options.proof.model_dump_json().encode()


def _sha256(parts: Iterable[bytes]) -> str:
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "big") + part)
    return digest.hexdigest()
