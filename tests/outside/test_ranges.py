"""No angle we report may exceed what a joint can do.

Held: the rule of what a joint can do, and what we measure; against published ranges of motion.

AAOS as in Norkin and White, table A.1: elbow 0 to 150 (read); knee 0 to 135 (from memory). Soucie
2011 (n = 674, that all joints lose range with age was read; the means are from memory): women and
men of 20 to 44, knee flexion 141.9 and 137.7, elbow flexion 150.0 and 144.6. Past straight, the
Beighton sign of lax joints begins at 10 (from memory). The rule is vision/judging/plausible.py.
"""

from __future__ import annotations

from itertools import product
from pathlib import Path

import numpy as np
import pytest

from tests.people import CLIP, landmarks, seated
from tests.samples import checked
from vision.judging.plausible import JOINT_RANGE_DEG, implausible
from vision.measuring.signals.angles import JointParams, joint_angle
from vision.measuring.track.build import build_track

#: Largest flexion in degrees: AAOS, then Soucie's women and men of 20 to 44.
FLEXION = {"knee": (135.0, 141.9, 137.7), "elbow": (150.0, 150.0, 144.6)}
LAX_FROM = 10.0
CLIPS = Path(__file__).parents[2] / "sample_clips"
TRUTHS = sorted(CLIPS.glob("*.truth.npz"))
LIMBS = ("shoulder", "hip", "knee", "ankle")


@pytest.mark.parametrize("joint", sorted(JOINT_RANGE_DEG))
def test_the_rule_allows_all_published_motion_and_not_much_more(joint):
    low, high = JOINT_RANGE_DEG[joint]
    most = max(FLEXION[joint])
    assert most <= 180.0 - low <= most + 20.0
    assert 180.0 + LAX_FROM <= high <= 180.0 + 2 * LAX_FROM


def test_the_rule_refuses_no_rendered_person():
    refused = set()
    for path in TRUTHS:
        with np.load(path) as truth:
            for joint, side in product(JOINT_RANGE_DEG, ("left", "right")):
                angles = truth[f"{joint}_{side}_deg"]
                if any(implausible(joint, float(a), 0.0) for a in (angles.min(), angles.max())):
                    refused.add((path.name, joint, side))
    assert TRUTHS and not refused


def test_a_bent_knee_taken_for_the_other_way_round_is_refused():
    """A person who faces right but is taken to face left: a right angle reads 270."""
    knee = np.full(120, 95.0)
    track = build_track(landmarks(seated(knee, facing=1), near="left"), CLIP, LIMBS)
    values = joint_angle(track, JointParams(joint="knee")).values
    assert implausible("knee", float(np.nanmedian(values)), 6.4) is not None


def test_a_bent_knee_seen_rightly_is_accepted():
    knee = np.full(120, 95.0)
    track = build_track(landmarks(seated(knee, facing=1), near="right"), CLIP, LIMBS)
    values = joint_angle(track, JointParams(joint="knee")).values
    assert float(np.nanmedian(values)) == pytest.approx(95.0, abs=0.5)
    assert implausible("knee", float(np.nanmedian(values)), 6.4) is None


@pytest.mark.long
def test_real_jumps_keep_to_human_ranges(jumps):
    _, analysis = jumps
    for joint in JOINT_RANGE_DEG:
        raw = joint_angle(analysis.track, JointParams(joint=joint))
        inside = (analysis.track.time_s >= analysis.reps.start_s) & (
            analysis.track.time_s <= analysis.reps.end_s
        )
        values = raw.values[inside & ~np.isnan(raw.values)]
        assert len(values) > 60
        assert [v for v in values if implausible(joint, float(v), 0.0)] == []


# Measured: the locked-out repetitions 4 and 9 (truly 182 and 181) read 195.7 and 186.7 with a half-width
# of 6.5; their intervals reach into what a knee can do, so the flags stand.
def test_no_value_of_a_rendered_set_exceeds_its_joint():
    analysis, _ = checked("leg-extension-faulty")
    measured = [f for f in analysis.report.findings if f.check == "knee-lockout" and f.measured is not None]
    assert len(measured) >= 10
    assert [f.rep for f in measured if implausible("knee", f.measured, f.uncertainty)] == []
    half = analysis.signals["knee"].clip_half
    ends = [v for r in analysis.reps.reps for v in (r.drive_min, r.drive_max)]
    assert [v for v in ends if implausible("knee", v, half)] == []
