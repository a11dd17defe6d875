"""All that is kept of a member as one archive, for them to take along."""

from __future__ import annotations

import json
import zipfile
from datetime import date, datetime
from pathlib import Path
from typing import Any

from app.store.belongings import rows_of
from app.store.database import Database
from app.store.files import Files
from app.store.review import kept_member
from shared.errors import UsageError
from vision.telling.files import HANDOUT

#: What lets someone in is nobody's to take along.
_SECRETS = {"pass": ("hash", "made_from"), "person": ("password",)}
_ABOUT = """All that Plumbset keeps of one member.

data.json    every row of the store that is theirs, by table
sets/        for each set the drawn clip, the tool's report as one page, its hand-out and pictures; heads are
             hidden. They are the tool's own, from before a trainer decided: what the trainer said of a set,
             and handed over, is in data.json (decision, release)
{raw}
"""
_RAW = "sets/*/as-sent-*   the clips as they were sent, faces visible: hand them to the member alone"
_NO_RAW = "The clips as they were sent are left out, because others may be seen in them."


def export_member(
    database: Database, files: Files, person_id: int, archive: Path, with_clips: bool = False
) -> int:
    """Write a member's archive (zip) and return how many files it holds.

    with_clips: also the clips as they were sent, in which faces are visible.

    Raises
    ------
    UsageError : there is no such member, or the archive cannot be written.
    """
    with database.read() as session:
        kept_member(session, person_id)
        rows = rows_of(session, person_id)
    for table, names in _SECRETS.items():
        rows[table] = [{k: v for k, v in row.items() if k not in names} for row in rows[table]]
    part = archive.with_name(f".part-{archive.name}")
    try:
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as out:
            out.writestr("README.txt", _ABOUT.format(raw=_RAW if with_clips else _NO_RAW))
            out.writestr("data.json", json.dumps(rows, indent=1, ensure_ascii=False, default=_plain))
            for name, address in _files(rows, with_clips):
                if files.there(address):
                    out.write(files.path(address), name)
            count = len(out.namelist())
        part.replace(archive)
        return count
    except OSError as error:
        raise UsageError(
            f"The archive could not be written ({error.strerror}); choose another place."
        ) from error
    finally:
        part.unlink(missing_ok=True)


def _files(rows: dict[str, list[dict[str, Any]]], with_clips: bool) -> list[tuple[str, str]]:
    found = []
    for row in rows["report"]:
        place = f"sets/{row['set_id']}/check-{row['version']}"
        kept = {
            "drawn.mp4": row["annotated"],
            "report.html": row["page"],
            "signals.csv": row["signals"],
            "drawing.json": row["moving"],
        }
        found += [(f"{place}/{name}", address) for name, address in kept.items() if address]
        found += [(f"{place}/{_picture_name(p, i)}", p["file"]) for i, p in enumerate(row["pictures"], 1)]
    if with_clips:
        found += [
            (f"sets/{row['id']}/as-sent-{which}{_plain_name(row[name] or '')}", row[clip])
            for row in rows["training_set"]
            for clip, name, which in (("clip", "clip_name", ""), ("second_clip", "second_name", "second-"))
            if row[clip] and row["clip_dropped_at"] is None
        ]
    return found


def _picture_name(picture: dict[str, str], number: int) -> str:
    return HANDOUT if picture["finding"] == HANDOUT else f"picture-{number}.jpg"


def _plain_name(name: str) -> str:
    kept = "".join(c if c.isalnum() or c in "-_." else "_" for c in name).lstrip(".")
    return kept[-80:] or "clip"


def _plain(value: object) -> str:
    if isinstance(value, date | datetime):
        return value.isoformat()
    raise TypeError(type(value).__name__)
