"""A marked stack, and a set filmed twice, on sample clips against their exact truth."""

from __future__ import annotations

import json

import numpy as np
import pytest

import vision.pair
from shared.domain import Rep, RepSet, Track, View
from shared.exercise import find_exercise
from tests.samples import CLIPS, checked
from vision.judging.options import Options
from vision.measuring.machine.load import REST_CM, find_load
from vision.pair import align, analyse_pair
from vision.seeing.clip import open_clip
from vision.seeing.mark_tracker import track_marks
from vision.seeing.marks import MarkPoint

STACK_CLIP = "lat-pulldown-clean"
MARKED_S = 5.0


def truth_of(name: str) -> tuple[dict, dict[str, np.ndarray]]:
    with np.load(CLIPS / f"{name}.truth.npz", allow_pickle=False) as data:
        arrays = {key: data[key] for key in data.files}
    return json.loads((CLIPS / f"{name}.truth.json").read_text()), arrays


def scale_only(cm_per_px: float, seconds: float) -> Track:
    """A track of which only the clock and the scale matter."""
    time_s = np.arange(0.0, seconds, 1 / 30)
    shape = (len(time_s), 33)
    blank = np.full((*shape, 3), np.nan)
    return Track(
        time_s, 30.0, blank[..., :2], blank, np.full(shape, np.nan), np.zeros(33), "left", 1,
        View("side-left", 0.0, 90.0), 48.0 / cm_per_px, (480, 854), cm_per_px,
    )  # fmt: skip


@pytest.mark.long
def test_a_marked_stack_gives_the_loads_height_its_rests_and_its_count():
    """No landmarks: the scale is that of the true heights, everything else is seen."""
    truth, arrays = truth_of(STACK_CLIP)
    i = int(np.argmin(np.abs(arrays["time_s"] - MARKED_S)))
    x, y = (float(v) for v in arrays["stack_px"][i])
    point = MarkPoint("stack", x, y, float(arrays["time_s"][i]))
    path = track_marks(open_clip(CLIPS / f"{STACK_CLIP}.mp4"), [point])["stack"]
    true_px = np.stack(
        [np.interp(path.time_s, arrays["time_s"], arrays["stack_px"][:, k]) for k in (0, 1)], 1
    )
    assert path.seen.mean() > 0.98
    assert np.nanmax(np.linalg.norm(path.xy_px - true_px, axis=1)) < 2.0
    height = arrays["stack_height_cm"]
    cm_per_px = float(np.ptp(height) / np.ptp(arrays["stack_px"][:, 1]))
    true = truth["reps"]
    load = find_load(path, scale_only(cm_per_px, truth["duration_s"]), _rep_set(true))
    assert np.nanmedian(np.abs(load.height_cm - np.interp(path.time_s, arrays["time_s"], height))) < 0.3
    assert load.reps is not None and len(load.reps.full) == truth["count"]
    resting = height < REST_CM
    edges = np.flatnonzero(np.diff(np.r_[False, resting, False].astype(int)))
    spans = [
        (arrays["time_s"][a], arrays["time_s"][b - 1]) for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    assert [(r.start_s, r.end_s) for r in load.rests] == [pytest.approx(s, abs=0.1) for s in spans]
    for ours, theirs in zip(load.reps.full, true, strict=True):
        assert ours.lift_s == pytest.approx(theirs["lift_s"], abs=0.2)
        assert ours.lower_s == pytest.approx(theirs["lower_s"], abs=0.2)


def _rep_set(rows: list[dict]) -> RepSet:
    times = ("start_s", "turn_s", "lower_start_s", "end_s", "rest_s")
    reps = tuple(Rep(r["number"], *(r[t] for t in times), *(0.0,) * 6, r["partial"], 1.0) for r in rows)
    return RepSet(reps, 60.0, reps[0].start_s, reps[-1].end_s)


def test_two_clips_of_a_set_are_aligned_and_each_check_is_answered_where_it_can_be_seen(monkeypatch):
    asked = []

    def recorded(name, exercise, pose, options, progress):
        asked.append(options)
        return checked(name)[0]

    monkeypatch.setattr(vision.pair, "analyse", recorded)
    names = ("shoulder-press-faulty", "shoulder-press-faulty-front")
    pair = analyse_pair(names, find_exercise("shoulder-press"), None, Options(side="left", height_cm=180.0))
    assert asked == [Options(side="left", height_cm=180.0), Options(height_cm=180.0)], (
        "the side is the first's"
    )
    report = pair.first.report
    truth, _ = truth_of("shoulder-press-faulty")
    assert report.quality.usable and report.count == truth["count"]
    side, front = (clip.file for clip in report.clips)
    assert report.clip.file == side
    answered = {f.check: f.clip for f in report.findings}
    assert answered["lean-back"] == side
    assert answered["uneven-sides"] == front
    told = [f for f in report.findings if f.check == "uneven-sides" and f.verdict != "cannot-tell"]
    assert len({f.rep for f in told}) >= truth["count"] - 1, "one view may miss a repetition at an edge"
    assert align(pair.first, pair.second).lag_s == pytest.approx(0.0, abs=0.15)
