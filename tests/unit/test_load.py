"""The load's own height: rests, repetitions and speeds from a path whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Rep, RepSet, Signal, Track
from shared.exercise import find_exercise
from tests.people import seated
from tests.synthetic import RepTruth, SetTruth
from vision.judging.bind import bind
from vision.judging.check import Context
from vision.judging.findings import judge_reps
from vision.measuring.machine.load import TRUNK_CM, find_load, height_signal, low_spans
from vision.measuring.machine.shown import Machine, followed, read_machine, with_marks
from vision.measuring.reps.find_reps import find_reps
from vision.seeing.marks import MarkPath, MarkPoint
from vision.telling.machine_report import count_words

RATE = 30.0
#: px of the picture a centimetre, by the trunk of the stick people.
PX = 200.0 / TRUNK_CM
LIFTED_CM = 30.0
REST_AT = 4


def heights(truth: SetTruth, rest_after: int | None = REST_AT, above_cm: float = 2.5) -> np.ndarray:
    """Height in cm: on the stack before and after the set and in one long rest, else ``above_cm`` over it."""
    time_s = np.arange(0.0, truth.duration_s, 1 / RATE)
    out = (truth.drive(time_s) - truth.low) / truth.range * LIFTED_CM
    bounds = truth.bounds()
    floor = np.full(len(time_s), above_cm)
    floor[(time_s < bounds[0][0]) | (time_s > bounds[-1][3])] = 0.0
    if rest_after is not None:
        floor[(time_s > bounds[rest_after - 1][3]) & (time_s < bounds[rest_after][0])] = 0.0
    return out + floor


def path_of(height_cm: np.ndarray, name: str = "stack", lean: float = 0.03) -> MarkPath:
    rng = np.random.default_rng(3)
    up = height_cm[:, None] * PX * np.array([lean, -1.0])
    xy = np.array([60.0, 500.0]) + up + rng.normal(0, 0.15, (len(height_cm), 2))
    time_s = np.arange(len(height_cm)) / RATE
    return MarkPath(MarkPoint(name, 60.0, 500.0, 0.0), time_s, xy, xy.copy(), np.ones(len(xy)))


def hidden(path: MarkPath, start_s: float, end_s: float) -> MarkPath:
    gone = (path.time_s >= start_s) & (path.time_s < end_s)
    blank = {k: np.where(gone[:, None], np.nan, getattr(path, k)) for k in ("xy_px", "steady_px")}
    return replace(path, **blank, confidence=np.where(gone, 0.0, path.confidence))


def a_set(rest_s: float = 1.2) -> SetTruth:
    reps = [RepTruth(rest_s=0.4)] * 8
    reps[REST_AT - 1] = RepTruth(rest_s=rest_s)
    return SetTruth(tuple(reps), before_s=2.0, after_s=2.0)


def track_of(truth: SetTruth) -> Track:
    from tests.people import CLIP, landmarks
    from vision.measuring.track.build import build_track

    knee = truth.drive(np.arange(0.0, truth.duration_s, 1 / RATE))
    built = build_track(landmarks(seated(knee)), CLIP, find_exercise("leg-extension").limbs)
    assert built is not None
    return built


def drive_reps(truth: SetTruth) -> RepSet:
    time_s = np.arange(0.0, truth.duration_s, 1 / RATE)
    signal = Signal("knee", "deg", time_s, truth.drive(time_s), np.zeros(len(time_s)), 0.0)
    found = find_reps(signal, "rising")
    assert found is not None
    return found


def context(truth: SetTruth, path: MarkPath) -> Context:
    exercise = with_marks(find_exercise("leg-extension"), ["stack"])
    track, reps = track_of(truth), drive_reps(truth)
    from vision.measuring.signals.signal import compute_signals

    signals = compute_signals(track, bind(exercise).signals, exercise, keep_raw=True)
    machine = read_machine({"stack": path}, track, signals, exercise, reps)
    return Context(track, signals, reps, exercise, machine)


def verdicts(ctx: Context, check: str) -> dict[int | None, str]:
    frames = [(t, i) for i, t in enumerate(ctx.track.time_s)]
    found = judge_reps(ctx, bind(ctx.exercise), frames, cleared=False)
    return {f.rep: f.verdict for f in found if f.check == check and f.verdict != "clear"}


def test_height_rests_and_count_are_those_of_the_load():
    truth = a_set()
    height = heights(truth)
    load = find_load(path_of(height), track_of(truth), drive_reps(truth))
    assert load.height_cm == pytest.approx(height, abs=0.3)
    bounds = truth.bounds()
    assert [(r.start_s, r.end_s) for r in load.rests] == [
        pytest.approx((0.0, bounds[0][0]), abs=0.15),
        pytest.approx((bounds[REST_AT - 1][3], bounds[REST_AT][0]), abs=0.15),
        pytest.approx((bounds[-1][3], truth.duration_s), abs=0.15),
    ]
    assert load.sure and load.reps is not None and len(load.reps.full) == 8
    assert load.reps.full[2].lift_s == pytest.approx(bounds[2][1] - bounds[2][0], abs=0.1)
    assert load.reps.full[2].lower_s == pytest.approx(bounds[2][3] - bounds[2][2], abs=0.1)


def test_heights_come_in_centimetres_with_a_body_height_else_in_trunk_lengths():
    truth = a_set()
    track, path = track_of(truth), path_of(heights(truth))
    load = find_load(path, track, None)
    trunks = height_signal(load, path, track)
    assert trunks.unit == "trunk_fraction"
    assert np.nanmax(trunks.values) == pytest.approx((LIFTED_CM + 2.5) / TRUNK_CM, rel=0.03)
    tall = replace(track, cm_per_px=1 / PX)
    assert height_signal(find_load(path, tall, None), path, tall).unit == "cm"


@pytest.mark.parametrize(("rest_s", "expected"), [(1.4, "flag"), (0.45, None)])
def test_a_rest_on_the_stack_is_flagged_on_its_repetition_and_a_short_touch_is_not(rest_s, expected):
    truth = a_set(rest_s)
    found = verdicts(context(truth, path_of(heights(truth))), "stack-rest")
    assert found == ({REST_AT: expected} if expected else {})


@pytest.mark.parametrize(
    ("step", "lost", "spans"),
    [
        (0.05, [5.0], [(4.0, 6.0)]),
        (0.05, [4.9, 4.95, 5.0], [(4.0, 4.85), (5.05, 6.0)]),
        (0.05, [4.0, 6.0], [(4.05, 5.95)]),
        (0.2, [], [(4.0, 6.0)]),
    ],
    ids=["one frame", "too long to bridge", "at both ends", "a slow clip"],
)
def test_a_frame_in_which_the_mark_is_lost_does_not_halve_a_rest(
    step: float, lost: list[float], spans: list[tuple[float, float]]
) -> None:
    time_s = np.round(np.arange(0.0, 10.0, step), 2)
    height = np.where((time_s >= 4.0) & (time_s <= 6.0), 0.0, 20.0)
    height[np.isin(time_s, lost)] = np.nan
    found = low_spans(time_s, height)
    assert [(r.start_s, r.end_s) for r in found] == spans


def test_a_pause_above_the_stack_is_no_rest():
    truth = a_set(2.0)
    assert verdicts(context(truth, path_of(heights(truth, rest_after=None))), "stack-rest") == {}


def test_where_the_load_is_never_seen_resting_outside_the_set_it_is_only_a_question():
    truth = a_set()
    path = path_of(heights(truth))
    path = hidden(hidden(path, 0.0, 1.9), truth.duration_s - 2.6, truth.duration_s)
    assert verdicts(context(truth, path), "stack-rest") == {REST_AT: "watch"}


def test_a_lost_mark_says_so_on_the_repetitions_it_concerns():
    truth = a_set()
    lower, end = truth.bounds()[1][2:]
    ctx = context(truth, hidden(path_of(heights(truth)), lower, end + 0.6))
    assert verdicts(ctx, "stack-rest")[2] == "cannot-tell"
    assert verdicts(ctx, "dropped-load") == {}, "the drive answers where the mark is lost"


def test_a_mark_that_was_hardly_followed_leaves_the_checks_to_the_body():
    truth = a_set()
    path = path_of(heights(truth))
    assert followed({"stack": path}) == ["stack"]
    assert followed({"stack": hidden(path, 1.0, 30.0)}) == []


def test_a_load_that_is_let_fall_is_flagged_from_its_own_time():
    reps = [RepTruth(rest_s=0.5)] * 8
    reps[4] = RepTruth(lower_s=0.45, rest_s=0.8)
    truth = SetTruth(tuple(reps))
    ctx = context(truth, path_of(heights(truth, rest_after=None)))
    assert verdicts(ctx, "dropped-load") == {5: "flag"}


def test_two_counts_that_differ_are_both_told():
    truth, more = a_set(), SetTruth((RepTruth(),) * 9)
    load = find_load(path_of(heights(more, None)), track_of(more), drive_reps(more))
    said = count_words(load, drive_reps(truth))
    assert said is not None and "8 repetitions" in said and "9 by the load." in said
    assert count_words(load, drive_reps(more)) is None


def test_a_mark_that_is_lost_for_half_the_set_counts_nothing():
    truth = a_set()
    load = find_load(hidden(path_of(heights(truth)), 8.0, 25.0), track_of(truth), drive_reps(truth))
    assert load.reps is None
    assert "not counted" in (count_words(load, drive_reps(truth)) or "")


def test_the_landing_speed_is_that_of_the_last_stretch():
    time_s = np.arange(0, 6, 1 / RATE)
    height = np.interp(time_s, [0, 1, 2, 3, 3.5, 6], [0, 0, 30, 30, 0, 0])
    truth = a_set()
    load = find_load(path_of(height), track_of(truth), None)
    rep = Rep(1, 1.0, 2.0, 3.0, 3.5, None, 0, 0, 0, 0, 0, 0, False, 1.0)
    assert load.landing_speed(rep) == pytest.approx(60.0, rel=0.2)
    held = replace(load, height_cm=load.height_cm + 5)
    assert held.landing_speed(rep) is None


def test_without_marks_the_checks_are_those_of_the_definition():
    exercise = find_exercise("leg-extension")
    assert with_marks(exercise, []) == exercise
    marked = with_marks(exercise, ["stack"])
    assert marked.check("stack-rest").measure == "load_rest"
    assert marked.check("stack-rest").limit.at_most == 0.5
    assert Machine().load_rep(drive_reps(a_set()).reps[0]) is None


def test_every_check_that_a_mark_changes_can_be_bound():
    from shared.exercise import exercise_names

    for name in exercise_names():
        bind(with_marks(find_exercise(name), ["stack", "pivot", "handle", "knee"]))
