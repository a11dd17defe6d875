"""Rendered people and sets are like real ones: limbs of human length, and a stack that rests outside the set.

Lengths: Drillis and Contini 1966 as printed in Winter, figure 4.1 (second-hand), shares of stature.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

TRUTHS = {
    path.name.split(".")[0]: json.loads(path.read_text(encoding="utf-8"))
    for path in sorted((Path(__file__).parents[2] / "sample_clips").glob("*.truth.json"))
}


@pytest.mark.parametrize(
    ("segment", "share", "tolerance"),
    [("thigh_cm", 0.530 - 0.285, 0.10), ("shank_cm", 0.285 - 0.039, 0.06), ("forearm_cm", 0.146, 0.10)],
)
def test_legs_and_forearms_have_human_lengths(segment: str, share: float, tolerance: float) -> None:
    ratios = {n: share * t["body"]["stature_cm"] / t["body"][segment] for n, t in TRUTHS.items()}
    assert ratios == pytest.approx(dict.fromkeys(TRUTHS, 1.0), abs=tolerance)


@pytest.mark.parametrize("name", [name for name in TRUTHS if "-clean" in name])
def test_in_a_clean_set_the_load_rests_only_before_and_after(name: str) -> None:
    reps, rests = TRUTHS[name]["reps"], TRUTHS[name]["stack"]["rests"]
    first, last = reps[0]["start_s"], reps[-1]["end_s"]
    assert rests and all(rest["end_s"] <= first or rest["start_s"] >= last for rest in rests)
