"""The tables: one row a repetition or moment, empty where unknown, harmless in a spreadsheet."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import sys
import types
from pathlib import Path

import handmade
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.errors import UsageError
from shared.report import SetReport
from vision.telling import write
from vision.telling.files import replace
from vision.telling.tables import cell, reps_csv, signals_csv


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_reps_name_their_findings() -> None:
    rows = _rows(reps_csv(handmade.analysis().report))
    assert [row["number"] for row in rows] == [str(n) for n in range(1, 14)]
    assert rows[3]["flag"] == "knee-lockout" and rows[10]["flag"] == "chest-drop dropped-load"
    assert rows[5]["watch"] == "chest-drop" and rows[6]["cannot_tell"] == "lean-back"
    assert rows[7]["partial"] == "yes" and rows[12]["rest_s"] == ""
    assert rows[0]["lift_s"] == "1.5" and {row["judged"] for row in rows} == {"yes"}


def test_an_unfit_clip_lists_what_was_followed_as_not_judged() -> None:
    rows = _rows(reps_csv(handmade.analysis(usable=False).report))
    assert len(rows) == 13 and {row["judged"] for row in rows} == {"no"}


def test_signals_carry_unit_uncertainty_and_gaps() -> None:
    analysis = handmade.analysis()
    rows = _rows(signals_csv(analysis))
    assert list(rows[0]) == [
        "time_s", "knee_deg", "knee_deg_uncertainty", "trunk_deg", "trunk_deg_uncertainty",
    ]  # fmt: skip
    assert len(rows) == len(analysis.signals["knee"].time_s)
    assert rows[0]["knee_deg"] == "90" and rows[0]["knee_deg_uncertainty"] == "3.3541"
    gap = rows[int(30.3 * handmade.RATE)]
    assert gap["time_s"] and gap["knee_deg"] == gap["knee_deg_uncertainty"] == ""


@pytest.mark.parametrize(
    ("value", "written"),
    [(-0.00001, "0"), (-0.0, "0"), (-0.0001, "-0.0001"), (10.0, "10"), (-10.5, "-10.5")],
)
def test_a_number_that_rounds_to_nothing_has_no_sign(value: float, written: str) -> None:
    assert cell(value) == written


def test_a_corrected_signal_keeps_its_raw_values() -> None:
    analysis = handmade.analysis()
    knee = dataclasses.replace(analysis.signals["knee"], raw=analysis.signals["knee"].values + 2)
    rows = _rows(signals_csv(dataclasses.replace(analysis, signals={"knee": knee})))
    assert rows[0]["knee_deg"] == "90" and rows[0]["knee_deg_raw"] == "92"


def test_no_track_gives_a_table_without_rows() -> None:
    assert signals_csv(dataclasses.replace(handmade.analysis(), track=None, signals={})) == "time_s\n"


@given(st.text())
def test_no_text_reads_as_a_formula(text: str) -> None:
    assert not cell(text).lstrip(" ").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert cell(text).removeprefix("'") == text.removeprefix("'")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r", "\n", "  ="])
def test_a_cell_that_a_spreadsheet_would_run_is_made_text(start: str) -> None:
    assert cell(f"{start}cmd|' /C calc'!A0").startswith("'")


def test_a_negative_number_stays_a_number() -> None:
    assert cell(-3.25) == "-3.25" and cell(np.float64(-0.5).item()) == "-0.5" and cell(float("nan")) == ""


@pytest.fixture
def no_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    pictures = types.ModuleType("vision.telling.pictures")
    pictures.flag_pictures = lambda source, analysis, show_faces: {}  # type: ignore[attr-defined]
    pictures.jpeg = lambda image: b""  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "vision.telling.pictures", pictures)
    monkeypatch.setattr(write, "_stills", lambda *_: (None, None))


@pytest.mark.usefixtures("no_pictures")
def test_the_files_of_a_set_are_written_whole(tmp_path: Path) -> None:
    analysis = handmade.analysis()
    out = tmp_path / "new" / "result"
    page = write.write_outputs(None, analysis, out)  # type: ignore[arg-type]
    assert page == out / "report.html"
    written = ["handout.png", "report.html", "report.json", "reps.csv", "signals.csv"]
    assert sorted(p.name for p in out.iterdir()) == written
    text = (out / "report.json").read_text(encoding="utf-8")
    assert (
        SetReport.from_json(text) == analysis.report and json.loads(text)["schema"] == "plumbset.set-report/1"
    )


@pytest.mark.usefixtures("no_pictures")
def test_an_unfit_clip_has_no_hand_out_and_keeps_none_of_an_earlier_run(tmp_path: Path) -> None:
    (tmp_path / "handout.png").write_bytes(b"old")
    write.write_outputs(None, handmade.analysis(usable=False), tmp_path)  # type: ignore[arg-type]
    assert not (tmp_path / "handout.png").exists()


@pytest.mark.usefixtures("no_pictures")
def test_a_clip_of_an_earlier_run_does_not_stay(tmp_path: Path) -> None:
    (tmp_path / "annotated.mp4").write_bytes(b"old")
    write.write_outputs(None, handmade.analysis(), tmp_path)  # type: ignore[arg-type]
    assert not (tmp_path / "annotated.mp4").exists()


def test_a_file_that_fails_half_way_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "report.json"
    path.write_text("old", encoding="utf-8")

    def fails(part: Path) -> None:
        part.write_text("half", encoding="utf-8")
        raise RuntimeError("disk")

    with pytest.raises(RuntimeError, match="disk"):
        replace(path, fails)
    assert [p.name for p in tmp_path.iterdir()] == ["report.json"] and path.read_text(
        encoding="utf-8"
    ) == "old"


@pytest.mark.usefixtures("no_pictures")
def test_a_folder_that_is_a_file_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    with pytest.raises(UsageError, match=r"taken cannot be written to .*--out"):
        write.write_outputs(None, handmade.analysis(), tmp_path / "taken")  # type: ignore[arg-type]
