"""A check that needs no landmarks: what it does stands in the clip's own bytes."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from pathlib import Path

from app.batches.clip import ClipJob
from app.jobs.contained import Say
from shared.errors import ClipError
from shared.report import SetReport

KEPT = Path(__file__).parents[1] / "data" / "report-0.1.0.json"


def check(clip: Path, job: ClipJob, out: Path, say: Say) -> None:
    """Write a report of the clip's name; or fail, crash, hang, as the clip says."""
    word, *more = clip.read_text(encoding="utf-8").split("\n")
    if word == "bad":
        raise ClipError(f"{clip.name} is damaged.")
    if word == "bug":
        raise KeyError("knee")
    if word == "crash":
        os.close(2)  # the fault handler of the tests would write a page
        ctypes.string_at(0)
    if word == "hang":
        signal.pause()
    if word == "stuck":
        _hang_once(Path(more[0]))
    report = SetReport.from_json(KEPT.read_text(encoding="utf-8"))
    fit = report.quality.model_copy(update={"usable": word != "unfit"})
    named = report.clip.model_copy(update={"file": clip.name})
    notices = ["No trainer has cleared it."] if word == "notice" else []
    changed = {"quality": fit, "clip": named, "exercise": job.exercise.name, "notices": notices}
    made = report.model_copy(update=changed)
    (out / "report.json").write_text(made.to_json(), encoding="utf-8")
    (out / "report.html").write_text(f"{clip.name} {job.options.side} {job.threads}", encoding="utf-8")


def _hang_once(told: Path) -> None:
    """The first to come writes its process and its parent's into a pipe, and waits for its end."""
    try:
        told.with_suffix(".taken").touch(exist_ok=False)
    except FileExistsError:
        return
    told.write_text(f"{os.getpid()} {os.getppid()}\n", encoding="utf-8")
    if sys.platform != "win32":
        signal.pause()
