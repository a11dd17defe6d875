"""What a worker really does with a clip: its own process, the real landmark model, the files of a report."""

from __future__ import annotations

from importlib.metadata import version
from pathlib import Path

import pytest

from app.batches.clip import ClipJob, check_one
from shared.exercise import find_exercise
from shared.report import SetReport
from tests.stress.made_clips import base
from vision.judging.options import Options


@pytest.mark.long
def test_a_piece_of_a_sample_is_reported_as_too_short_twice_with_the_same_bytes(tmp_path: Path) -> None:
    clip = tmp_path / "piece.mp4"
    clip.write_bytes(base(0))
    one, two = (
        check_one(
            ClipJob("piece", str(clip), find_exercise("leg-curl"), Options(), threads, version("plumbset"))
        )
        for threads in (1, 2)
    )
    assert one.problem == "" and one == two
    assert sorted(one.files) == ["report.html", "report.json", "reps.csv", "signals.csv"]
    report = SetReport.from_json(one.files["report.json"].decode())
    assert not report.quality.usable and report.clip.file == "piece.mp4"
    assert str(tmp_path).encode() not in b"".join(one.files.values())
