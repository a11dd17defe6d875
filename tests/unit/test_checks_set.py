"""Checks of a whole set and of its turns: what fades, creeps, is bounced or rests, about the limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.exercise import Motion
from tests.check_sets import bump, context, found, set_of
from tests.synthetic import RepTruth, SetTruth
from vision.measuring.reps.tempo import EFFORT, measure_tempo

GOOD = RepTruth(rest_s=0.5)


def _set(last: RepTruth, count: int = 10, late: int = 3) -> SetTruth:
    return SetTruth((GOOD,) * (count - late) + (last,) * late)


def _one(ctx, check):
    findings = found(ctx, check)
    assert [f.rep for f in findings] == [None]
    return findings[0]


@pytest.mark.parametrize(
    ("share", "verdict"), [(1.0, "clear"), (0.88, "clear"), (0.83, "watch"), (0.76, "flag")]
)
def test_a_range_that_fades_at_the_end(share: float, verdict: str) -> None:
    late = _one(context("leg-extension", truth=_set(RepTruth(rest_s=0.5, share=share))), "late-fade")
    assert late.verdict == verdict
    assert late.measured == pytest.approx(100 * share, abs=2)
    if verdict == "flag":
        assert late.reason == "from repetition 8 on" and late.prompt is not None


def test_a_fade_is_as_unsure_as_the_ranges_that_make_it() -> None:
    """In the last three joint and hand do not agree by half of the range."""
    sure = context("leg-extension", truth=_set(RepTruth(rest_s=0.5, share=0.76)))
    last = [replace(rep, range_unsure=0.25) for rep in sure.reps.reps[-3:]]
    unsure = replace(sure, reps=replace(sure.reps, reps=(*sure.reps.reps[:-3], *last)))
    assert _one(sure, "late-fade").verdict == "flag"
    assert _one(unsure, "late-fade").verdict in ("watch", "cannot-tell")


@pytest.mark.parametrize(("share", "verdict"), [(0.9, "clear"), (0.67, "watch"), (0.45, "flag")])
def test_last_repetitions_that_are_rushed(share: float, verdict: str) -> None:
    hurried = RepTruth(lift_s=1.6 * share, lower_s=1.8 * share, rest_s=0.5)
    late = _one(context("leg-extension", truth=_set(hurried)), "late-fade-tempo")
    assert late.verdict == verdict
    assert late.measured == pytest.approx(100 * share, abs=6)


def test_slowing_at_the_end_is_effort_and_no_fault() -> None:
    slow = RepTruth(lift_s=2.6, lower_s=2.6, rest_s=0.5)
    ctx = context("leg-extension", truth=_set(slow))
    for check in ("late-fade", "late-fade-tempo", "uneven-tempo"):
        assert _one(ctx, check).verdict == "clear", check
    assert "effort, not a fault" in measure_tempo(ctx.reps, Motion()).sentence
    assert EFFORT < (2.6 + 2.6) / (1.6 + 1.8)
    assert "effort" not in measure_tempo(context("leg-extension").reps, Motion()).sentence


@pytest.mark.parametrize(
    ("gone", "verdict"), [((), "clear"), ((9,), "clear"), ((8, 10), "flag"), ((4, 5), "clear")]
)
def test_posture_that_goes_at_the_end(gone: tuple[int, ...], verdict: str) -> None:
    """In two of the last three; from which repetition on is said."""
    truth = _set(GOOD)
    ctx = context("leg-extension", truth=truth)
    trunk = -12.0 + sum((18.0 * bump(ctx.reps, n, ctx.track.time_s) for n in gone), start=np.zeros(1))
    late = _one(context("leg-extension", {"trunk": trunk}, truth), "late-fade-posture")
    assert late.verdict == verdict
    if verdict == "flag":
        assert late.reason == "from repetition 8 on" and late.measured == 2


def test_too_few_repetitions_have_no_end_to_hold_against_their_beginning() -> None:
    ctx = context("leg-extension", truth=SetTruth((GOOD,) * 5))
    for check in ("late-fade", "late-fade-tempo", "late-fade-posture", "creep"):
        assert _one(ctx, check).verdict == "cannot-tell", check


@pytest.mark.parametrize(
    ("trunks", "verdict"),
    [(0.0, "clear"), (0.06, "clear"), (0.095, "watch"), (0.13, "flag"), (-0.13, "clear")],
)
def test_hips_that_creep_over_the_set(trunks: float, verdict: str) -> None:
    _, drive, reps = set_of("chest-press")
    done = np.clip((drive.time_s - reps.start_s) / (reps.end_s - reps.start_s), 0, 1)
    creep = _one(context("chest-press", {"hips": trunks * done}), "creep")
    assert creep.verdict == verdict
    assert creep.measured == pytest.approx(trunks, abs=0.005)


def test_one_slide_is_no_creep() -> None:
    ctx = context("chest-press")
    slid = {"hips": 0.3 * bump(ctx.reps, 8, ctx.track.time_s)}
    assert _one(context("chest-press", slid), "creep").verdict == "clear"


def _bounced(at: int) -> SetTruth:
    """One lowering that ends in a dead stop and is lifted again at once."""
    return SetTruth(
        tuple(RepTruth(rest_s=0.5) if n != at else RepTruth(lower_s=0.9, rest_s=0.0) for n in range(1, 11))
    )


def test_a_turn_that_is_bounced_is_a_question_and_smooth_ones_are_clear() -> None:
    truth = _bounced(5)
    ctx = context("leg-extension", truth=truth)
    drive = ctx.signals["knee"]
    turn = ctx.reps.reps[4].end_s
    near = np.abs(drive.time_s - turn) < 0.3
    drive.values[near] = truth.low + 90.0 * np.abs(drive.time_s[near] - turn)
    found_turns = {f.rep: f for f in found(ctx, "rushed-turn")}
    assert found_turns[5].verdict == "watch" and found_turns[5].prompt is None
    assert {f.verdict for n, f in found_turns.items() if n != 5} == {"clear"}
    assert 10 not in found_turns, "nothing follows the last repetition"


def test_a_hard_stop_with_a_rest_is_no_rushed_turn() -> None:
    truth = SetTruth((RepTruth(rest_s=1.0),) * 8)
    ctx = context("leg-extension", truth=truth)
    drive = ctx.signals["knee"]
    turn = ctx.reps.reps[4].end_s
    near = (drive.time_s > turn - 0.3) & (drive.time_s <= turn)
    drive.values[near] = truth.low + 90.0 * (turn - drive.time_s[near])
    fifth = next(f for f in found(ctx, "rushed-turn") if f.rep == 5)
    assert fifth.verdict == "clear" and "rest of" in (fifth.reason or "")


def test_a_hard_turn_of_a_repetition_of_another_length_is_told_by_its_tempo_alone() -> None:
    truth = SetTruth(tuple(RepTruth(0.6, 0.2, 0.6, 0.0) if n == 5 else GOOD for n in range(1, 11)))
    ctx = context("leg-extension", truth=truth)
    drive = ctx.signals["knee"]
    turn = ctx.reps.reps[4].end_s
    near = np.abs(drive.time_s - turn) < 0.3
    drive.values[near] = truth.low + 90.0 * np.abs(drive.time_s[near] - turn)
    fifth = next(f for f in found(ctx, "rushed-turn") if f.rep == 5)
    assert fifth.verdict == "clear" and "are usual" in (fifth.reason or "")


def test_arms_long_at_the_top_of_a_pulldown_are_a_question_where_a_press_is_flagged() -> None:
    said = {}
    for name in ("chest-press", "lat-pulldown"):
        truth = SetTruth((GOOD,) * 8, low=100.0, range=78.0)
        said[name] = {f.verdict for f in found(context(name, truth=truth), "elbow-lockout")}
    assert said == {"chest-press": {"flag"}, "lat-pulldown": {"watch"}}


def test_whole_repetitions_beside_many_short_ones_are_not_locked_out_for_that() -> None:
    """Half of the set stops short: the others end no straighter than such repetitions do."""
    truth = SetTruth((GOOD, RepTruth(share=0.5)) * 4, low=98.0, range=72.0)
    said = {f.verdict for f in found(context("chest-press", truth=truth), "elbow-lockout")}
    assert said == {"clear"}


def test_beside_a_member_s_own_longer_range_the_set_s_whole_repetitions_still_tell_a_lockout() -> None:
    truth = SetTruth(tuple(RepTruth(share=1.15 if n == 4 else 1.0) for n in range(8)), low=94.0, range=70.0)
    ctx = context("chest-press", truth=truth)
    assert {f.rep for f in found(ctx, "elbow-lockout") if f.verdict != "clear"} == {5}
    shorter = tuple(replace(rep, range_share=0.8 * rep.range_share) for rep in ctx.reps.reps)
    of_a_member = replace(ctx, reps=replace(ctx.reps, reps=shorter))
    assert found(of_a_member, "elbow-lockout") == found(ctx, "elbow-lockout")


@pytest.mark.parametrize(("rest_s", "verdict"), [(0.4, "clear"), (1.2, "watch"), (3.0, "watch")])
def test_a_load_that_may_rest_on_the_stack_is_only_ever_a_question(rest_s: float, verdict: str) -> None:
    reps = [GOOD] * 8
    reps[3] = RepTruth(rest_s=rest_s)
    fourth = next(
        f for f in found(context("leg-extension", truth=SetTruth(tuple(reps))), "stack-rest") if f.rep == 4
    )
    assert fourth.verdict == verdict and fourth.prompt is None
    assert ("just above the stack" in (fourth.reason or "")) == (verdict == "watch")


@pytest.mark.parametrize(("pitch", "verdict"), [(-12.0, "clear"), (-45.0, "watch"), (40.0, "watch")])
def test_a_posture_from_the_first_repetition_on_is_a_value_and_no_flag(pitch: float, verdict: str) -> None:
    ctx = context("leg-extension", {"trunk": pitch})
    start = _one(ctx, "start-posture")
    assert (start.verdict, start.measured, start.prompt) == (verdict, pytest.approx(pitch), None)
    for check in ("chest-drop", "lean-back"):
        assert {f.verdict for f in found(ctx, check)} == {"clear"}


# Degrees, and lengths in trunks.
@pytest.mark.parametrize(
    ("exercise", "view", "check", "signal", "usual", "far"),
    [
        ("chest-fly", "front", "arms-off-level", "arm_level", 5.0, 40.0),
        ("chest-fly", "front", "arms-off-level", "arm_level", 5.0, -40.0),
        ("chest-fly", "front", "elbows-bent", "elbow", 160.0, 95.0),
        ("chest-fly", "front", "hands-uneven", "sides", 0.0, 0.4),
        ("reverse-fly", "rear", "hands-uneven", "sides", 0.0, -0.4),
        ("shoulder-press", "front", "hands-uneven", "sides", 0.0, 0.4),
        ("lat-pulldown", "side", "shoulders-up", "neck", -0.38, -0.1),
        ("chest-press", "side", "shoulders-up", "neck", -0.38, -0.1),
    ],
)
def test_a_fault_in_every_repetition_is_asked_and_never_flagged(
    exercise: str, view: str, check: str, signal: str, usual: float, far: float
) -> None:
    good = _one(context(exercise, {signal: usual}, view=view), check)
    assert (good.verdict, good.prompt) == ("clear", None)
    bad = _one(context(exercise, {signal: far}, view=view), check)
    assert (bad.verdict, bad.prompt, bad.reason) == (
        "watch",
        None,
        "from repetition 1 on",
    )
    assert bad.measured == pytest.approx(far)


def test_what_only_the_last_repetitions_show_is_no_fault_of_the_whole_set() -> None:
    _, drive, reps = set_of("chest-fly")
    late = np.where(drive.time_s >= reps.reps[-3].start_s, 40.0, 5.0)
    assert _one(context("chest-fly", {"arm_level": late}, view="front"), "arms-off-level").verdict == "clear"
    most = np.where(drive.time_s >= reps.reps[3].start_s, 40.0, 5.0)
    said = _one(context("chest-fly", {"arm_level": most}, view="front"), "arms-off-level")
    assert (said.verdict, said.reason) == ("watch", "from repetition 4 on")
