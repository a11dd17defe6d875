"""A studio's proof widens what is told, never narrows it, and says so; without one nothing changes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from shared.errors import DefinitionError
from shared.exercise import find_exercise
from shared.proof import FEW_CLIPS, Agreement, MachineProof, Proof, What, read_proof
from tests.stick_sets import judged, knee_motion
from vision.judging.options import Options
from vision.judging.proven import WIDER, Least, least_of
from vision.measuring.learnt.data import load_learnt
from vision.measuring.learnt.uncertainty import Z90
from vision.telling.analysis import Analysis

EXTENSION = find_exercise("leg-extension")
USUAL_S = load_learnt("leg-extension").duration_s
#: Lowers a good half as long as the lifts: the drop is flagged where times are told as usual.
DROPPED = knee_motion(lift_s=1.6, lower_s=0.5)
#: Every lift goes past straight.
LOCKED = knee_motion(low=95.0, range_deg=88.0)


def proof(clips: int = 8, **sd: float) -> Proof:
    """Of the leg extension, with those standard deviations and no mean."""
    found = [
        Agreement(what=what, unit="s", n=40, mean=0.0, sd=v, low=-2 * v, high=2 * v)
        for what, v in sd.items()  # type: ignore[arg-type]
    ]
    return Proof(machines={"leg-extension": MachineProof(clips=clips, agreement=found)})


def told(knee: np.ndarray, by: Proof | None) -> Analysis:
    return judged(knee, options=Options(cleared=True, proof=by))


def verdicts(analysis: Analysis, check: str) -> list[str]:
    return [f.verdict for f in analysis.report.findings if f.check == check]


@pytest.fixture(scope="module")
def usual() -> Analysis:
    """The dropped loads without a proof."""
    return told(DROPPED, None)


def test_a_flag_needs_the_wider_interval_too(usual: Analysis) -> None:
    before, after = (verdicts(one, "dropped-load") for one in (usual, told(DROPPED, proof(lower=1.0))))
    assert "flag" in before and "flag" not in after


def test_the_drive_is_told_as_wide_as_its_range_was_off() -> None:
    before, after = told(LOCKED, None), told(LOCKED, proof(range=30.0))
    assert after.signals["knee"].clip_half == pytest.approx(Z90 * 30.0 / 2**0.5)
    assert before.signals["knee"].clip_half < after.signals["knee"].clip_half
    assert "flag" in verdicts(before, "knee-lockout") and "flag" not in verdicts(after, "knee-lockout")


def test_the_report_says_so_in_one_sentence() -> None:
    (said,) = [n for n in told(DROPPED, proof(lower=0.5)).report.quality.notes if n.startswith(WIDER)]
    assert "8 clips" in said and f"within {Z90 * 0.5:.2f} s in place of {USUAL_S:.2f}" in said
    assert said.count(". ") == 0 and "angle" not in said


@pytest.mark.parametrize(
    "by",
    [
        proof(lift=0.01, lower=0.01, range=0.1),
        proof(clips=FEW_CLIPS - 1, lift=2.0, range=60.0),
        Proof(machines={"leg-curl": proof(lift=2.0).machines["leg-extension"]}),
        proof(count=3.0, hold=3.0, pause=3.0),
    ],
    ids=["smaller errors", "too few clips", "another machine", "what has no interval"],
)
def test_nothing_changes_by_what_proves_nothing_larger(by: Proof, usual: Analysis) -> None:
    assert told(DROPPED, by).report == usual.report


def test_a_mean_error_widens_as_well() -> None:
    found = Agreement(what="lift", unit="s", n=40, mean=-0.5, sd=0.1, low=-0.7, high=-0.3)
    by = Proof(machines={"leg-extension": MachineProof(clips=8, agreement=[found])})
    assert least_of(by, EXTENSION).phase_s == pytest.approx(0.5 + Z90 * 0.1)


def test_no_interval_is_narrowed(usual: Analysis) -> None:
    learnt = load_learnt("leg-extension")
    assert Least(phase_s=0.001).learnt(learnt) == learnt
    signals = usual.signals
    assert Least(end_deg=0.001).signals(signals, EXTENSION)["knee"].clip_half == signals["knee"].clip_half


def test_pairs_without_limits_prove_nothing() -> None:
    what: What = "lift"
    few = Agreement(what=what, unit="s", n=4, mean=3.0)
    by = Proof(machines={"leg-extension": MachineProof(clips=8, agreement=[few])})
    assert least_of(by, EXTENSION) == Least()


def test_the_file_is_read_back_and_another_is_refused_in_a_sentence(tmp_path: Path) -> None:
    file = tmp_path / "proof-numbers.json"
    file.write_text(proof(lift=0.2).model_dump_json(by_alias=True), encoding="utf-8")
    assert read_proof(file) == proof(lift=0.2)
    file.write_text('{"schema": "plumbset.proof/1", "machines": {}, "clip": "a.mp4"}', encoding="utf-8")
    with pytest.raises(DefinitionError, match="clip: is not a known key"):
        read_proof(file)
