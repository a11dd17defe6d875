"""Proof on one's own clips: what is compared, the limits of agreement, what may be passed on."""

from __future__ import annotations

import json
from pathlib import Path

import handmade
import numpy as np
import pytest

from app import cli
from app.page.proof_page import proof_page
from app.rules.proof import ClipProof, Pair, agreement, clip_proof, numbers, trust
from shared.proof import FEW_CLIPS
from tests.tagged_reports import report


def clip(differences: list[float], name: str = "a.mp4", exercise: str = "leg-curl") -> ClipProof:
    pairs = [Pair("lift", 2.0 + d, 2.0) for d in differences]
    return ClipProof(name, exercise, (Pair("count", 8, 8), *pairs), 0)


def test_body_and_load_are_compared_repetition_by_repetition():
    found = clip_proof(report(0.1))
    assert found is not None
    by = {what: [p.difference for p in found.pairs if p.what == what] for what in ("lift", "lower", "hold")}
    assert by["lift"] == pytest.approx([-0.1] * len(report().reps)) and by["lower"] == pytest.approx(
        [0.0] * len(report().reps)
    )
    assert by["hold"] == pytest.approx([0.0] * len(report().reps), abs=1e-9)
    assert [p.difference for p in found.pairs if p.what == "count"] == [0]
    assert len([p for p in found.pairs if p.what == "range"]) == 1
    assert found.rests == 1, "a rest before the set is none of the set's"


def test_a_mark_given_by_hand_proves_nothing():
    assert clip_proof(report(tag=False)) is None
    assert clip_proof(handmade.analysis().report) is None
    assert clip_proof(report().model_copy(update={"count": None})) is None


def test_limits_of_agreement_are_bland_and_altman_s():
    """Their peak-flow example of 1986, 17 subjects by two meters, from memory: mean -2.1, sd 38.8 l/min."""
    wright = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
    mini = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
    found = agreement([Pair("lift", a, b) for a, b in zip(wright, mini, strict=True)], "lift")
    assert found is not None and found.low is not None and found.high is not None and found.sd is not None
    assert (found.n, found.mean, found.sd) == (
        17,
        pytest.approx(-2.1, abs=0.05),
        pytest.approx(38.8, abs=0.05),
    )
    assert (found.low, found.high) == (pytest.approx(-78.1, abs=0.2), pytest.approx(73.9, abs=0.2))


def test_few_pairs_have_no_limits():
    found = agreement([Pair("lift", 2.0, 1.9)] * 4, "lift")
    assert found is not None and found.low is None and found.mean == pytest.approx(0.1)
    assert agreement([], "lift") is None


def test_one_sentence_says_how_far_to_trust():
    few = trust([clip([0.1, 0.2])])
    assert few.startswith("Cannot tell yet") and f"1 of at least {FEW_CLIPS}" in few
    rng = np.random.default_rng(2)
    clips = [clip(list(rng.normal(0, 0.1, 8))) for _ in range(FEW_CLIPS)]
    said = trust(clips)
    assert "the same in 5 of 5" in said and "time of the lift was within 0." in said and said.count(".") <= 3


def test_what_may_be_passed_on_names_no_clip():
    told = numbers([clip([0.1] * 6, "anna-monday.mp4")]).model_dump_json()
    assert "leg-curl" in told and "anna" not in told and "monday" not in told


def test_the_page_escapes_names_and_shows_a_picture():
    page = proof_page([clip([0.1, -0.1, 0.2, 0.0, 0.1], "<b>a.mp4")], passed_over=2)
    assert "&lt;b&gt;a.mp4" in page and "<b>a.mp4" not in page
    assert "<svg" in page and "2 reports without" in page


def test_the_command_reads_a_folder_of_reports(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    for name, one in (("one", report()), ("two", handmade.analysis().report)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "report.json").write_text(one.to_json(), encoding="utf-8")
    assert cli.run(lambda: cli.app(["proof", str(tmp_path), "--share"], standalone_mode=False)) == 0
    assert "lift: " in capsys.readouterr().out
    assert "1 report without" in (tmp_path / "proof.html").read_text(encoding="utf-8")
    assert json.loads((tmp_path / "proof-numbers.json").read_text(encoding="utf-8"))["machines"]


def test_a_folder_without_reports_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert cli.run(lambda: cli.app(["proof", str(tmp_path)], standalone_mode=False)) == 2
    assert "holds no report.json" in capsys.readouterr().err
