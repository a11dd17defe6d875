"""Verdicts and checks: what is measured on motion with known truth, and how it is judged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.exercise import find_exercise
from shared.faults import FLAG_CERTAINTY
from tests.people import CLIP, landmarks, seated
from tests.synthetic import RepTruth, SetTruth
from vision.judging.bind import bind
from vision.judging.check import CHECKS, Context
from vision.judging.evidence import LimbEnd, Measurement, NotMeasured, Stricter
from vision.judging.findings import A_FACT, ONE_SIDED, _clearer, _judged, _since, judge, judge_reps, weighed
from vision.judging.lockout import STRAIGHTER
from vision.judging.proven import Least
from vision.measuring.learnt import uncertainty
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.signals.signal import compute_signals
from vision.measuring.track.build import build_track

LEG = find_exercise("leg-extension")


def context(truth: SetTruth, pitch=None, exercise=LEG) -> Context:
    """The stages of a stick person doing a set of leg extensions."""
    time_s = np.arange(0, truth.duration_s, 1 / 30)
    points = seated(truth.drive(time_s))
    if pitch is not None:
        points = np.stack(
            [
                seated(np.array([k]), pitch_deg=p)[0]
                for k, p in zip(truth.drive(time_s), pitch(time_s), strict=True)
            ]
        )
    track = build_track(landmarks(points), CLIP, exercise.limbs)
    signals = compute_signals(track, bind(exercise).signals, exercise, keep_raw=True)
    reps = find_reps(signals[exercise.drive.signal], exercise.drive.lift)
    return Context(track, signals, reps, exercise)


def findings(ctx: Context, check: str):
    plan = bind(ctx.exercise)
    frames = [(t, i) for i, t in enumerate(ctx.track.time_s)]
    return [f for f in judge_reps(ctx, plan, frames, cleared=False) if f.check == check]


def verdicts(ctx, check):
    return {f.rep: f.verdict for f in findings(ctx, check) if f.verdict != "clear"}


@pytest.mark.parametrize(
    ("value", "uncertainty", "expected"),
    [
        (170.0, 6.0, "clear"),
        (172.1, 6.0, "watch"),
        (172.0 + ONE_SIDED * 6.0 + 0.01, 6.0, "flag"),
        (172.0 + ONE_SIDED * 6.0 - 0.01, 6.0, "watch"),
        (190.0, 15.1, "cannot-tell"),
        (190.0, float("nan"), "cannot-tell"),
    ],
)
def test_the_one_sided_bound_decides(value, uncertainty, expected):
    spec = LEG.check("knee-lockout")
    found = Measurement(rep=1, value=value, uncertainty=uncertainty, unit="deg", time_s=1.0)
    assert judge(spec, found, None, spec.max_uncertainty, False) == expected


@pytest.mark.parametrize("more", [{}, {"share": 1.0}, {"limb": LimbEnd(joint="knee", change=None)}])
def test_a_value_that_is_not_known_is_never_clear(more) -> None:
    found = Measurement(rep=1, value=float("nan"), uncertainty=4.0, unit="deg", time_s=1.0, **more)
    told = _judged(LEG.check("knee-lockout"), found, in_cm=False)
    assert told.verdict == "cannot-tell"
    assert told.answer == NotMeasured(1, "this could not be seen here")


def test_the_one_sided_bound_is_that_of_a_normal_error():
    """scipy's normal distribution: a two-sided 90 % half-width against the one-sided bound of a flag."""
    from scipy.stats import norm

    assert pytest.approx(norm.ppf(FLAG_CERTAINTY) / norm.ppf(0.95), abs=1e-4) == ONE_SIDED


@pytest.mark.parametrize(("p", "verdict"), [(0.97, "watch"), (0.6, "watch"), (0.3, "clear"), (0.05, "clear")])
def test_a_question_is_a_watch_at_most(p: float, verdict: str) -> None:
    spec = LEG.check("stack-rest")
    found = Measurement(rep=1, value=2.0, uncertainty=0.2, unit="s", time_s=1.0, question=True)
    assert judge(spec, found, p, spec.max_uncertainty, False) == verdict


def test_a_lockout_is_watched_sooner_than_other_faults() -> None:
    spec = LEG.check("knee-lockout")
    found = Measurement(rep=1, value=170.0, uncertainty=6.0, unit="deg", time_s=1.0)
    limb = replace(found, limb=LimbEnd(joint="knee", change=8.0))
    assert judge(spec, limb, 0.4, spec.max_uncertainty, False) == "watch"
    assert judge(spec, limb, 0.2, spec.max_uncertainty, False) == "clear"
    assert judge(spec, found, 0.4, spec.max_uncertainty, False) == "clear"


def test_a_lockout_told_within_the_limit_says_why() -> None:
    found = Measurement(rep=1, value=170.0, uncertainty=13.0, unit="deg", time_s=1.0)
    limb = LimbEnd(joint="elbow", change=9.0)
    assert weighed(replace(found, limb=limb), None, 172.0)[1] == STRAIGHTER.format(degrees=9)
    assert weighed(replace(found, limb=limb, value=175.0), None, 172.0)[1] == ""


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ([5.0, 5.0, 30.0, 30.0, 30.0], "from repetition 3 on"),
        ([30.0, 5.0, 30.0, 30.0, 30.0], "from repetition 3 on"),
        ([30.0, 30.0, 30.0, 30.0, 30.0], "from repetition 1 on"),
        ([30.0, 30.0, 30.0, 5.0, 5.0], ""),
        ([30.0, 30.0, 30.0, 30.0, 20.0], ""),
        ([], ""),
    ],
)
def test_a_set_is_told_from_which_repetition_on_it_went_on_so_and_never_from_a_good_one(
    values: list[float], said: str
) -> None:
    found = Measurement(
        rep=None, value=30.0, uncertainty=1.0, unit="deg", time_s=None, per_rep=tuple(enumerate(values, 1))
    )
    assert _since(found, None, 20.0) == said


def test_of_a_value_and_the_same_seen_otherwise_the_clearer_answers() -> None:
    """The place of the hands as seen is clear; against the set's other repetitions it is far beyond."""
    other = Measurement(rep=1, value=12.0, uncertainty=2.0, unit="cm", time_s=1.0, note="otherwise")
    seen = replace(other, value=1.0, note="", instead=other)
    assert _clearer(seen, None, 4.0) is other
    assert _clearer(replace(seen, value=30.0), None, 4.0).value == 30.0


def test_a_smaller_limit_counts_where_it_holds() -> None:
    strict = Stricter(limit=4.0, probability=0.95, note="with the hips moving the limit is 4 degrees")
    found = Measurement(rep=1, value=6.0, uncertainty=1.0, unit="deg", time_s=1.0, share=1.0, stricter=strict)
    p, why = weighed(found, None, 7.0)
    assert p == pytest.approx(0.95, abs=0.01) and why == strict.note
    assert weighed(replace(found, stricter=replace(strict, probability=0.0)), None, 7.0)[1] == ""


def test_a_clean_set_is_clear_throughout_and_names_every_counted_repetition():
    ctx = context(SetTruth((RepTruth(),) * 12))
    for spec in LEG.checks:
        found = findings(ctx, spec.id)
        if spec.id in (
            "pivot-off",
            "back-off-pad",
            "hips-off-pad",
            "calves-off-seat",
        ):  # only where the machine was marked
            assert found == []
            continue
        assert {f.verdict for f in found} == {"clear"}, spec.id
        turns = ("stack-rest", "rushed-turn")  # nothing follows the last repetition
        between = list(range(1, 12)) if spec.id in turns else list(range(1, 13))
        assert [f.rep for f in found] in ([None], between), spec.id


def test_a_locked_knee_is_flagged_on_its_repetitions_only():
    shares = [1.0] * 12
    shares[3] = shares[8] = 1.42
    ctx = context(SetTruth(tuple(RepTruth(share=s) for s in shares)))
    assert verdicts(ctx, "knee-lockout") == {4: "flag", 9: "flag"}
    flag = next(f for f in findings(ctx, "knee-lockout") if f.rep == 4)
    assert flag.measured == pytest.approx(90 + 65 * 1.42, abs=2.0)
    assert flag.frame == pytest.approx(ctx.reps.reps[3].turn_s * 30, abs=12)
    assert flag.prompt


@pytest.mark.parametrize(("sign", "check"), [(1, "chest-drop"), (-1, "lean-back")])
def test_a_trunk_that_pitches_is_flagged_in_its_direction(sign, check):
    truth = SetTruth((RepTruth(),) * 12)
    start, _, _, end = truth.bounds()[5]

    def pitch(time_s):
        return -8.0 + sign * 16.0 * np.exp(-(((time_s - (start + end) / 2) / 0.8) ** 2))

    ctx = context(truth, pitch)
    assert verdicts(ctx, check) == {6: "flag"}
    assert verdicts(ctx, "lean-back" if check == "chest-drop" else "chest-drop") == {}


def test_fast_and_dropped_repetitions_are_flagged():
    reps = [RepTruth()] * 12
    reps[2] = RepTruth(lift_s=0.6)
    reps[7] = RepTruth(lift_s=2.4, lower_s=0.7)
    ctx = context(SetTruth(tuple(reps)))
    assert verdicts(ctx, "too-fast") == {3: "flag", 8: "flag"}
    assert verdicts(ctx, "dropped-load") == {8: "flag"}


def test_a_slow_hard_last_lift_is_no_drop():
    reps = [RepTruth()] * 11 + [RepTruth(lift_s=5.0, lower_s=1.9)]
    assert verdicts(context(SetTruth(tuple(reps))), "dropped-load") == {}


def test_steady_slowing_is_not_uneven_and_a_ragged_set_is():
    slowing = SetTruth(tuple(RepTruth(lift_s=1.2 + 0.15 * i, lower_s=1.5 + 0.1 * i) for i in range(12)))
    assert verdicts(context(slowing), "uneven-tempo") == {}
    ragged = SetTruth(tuple(RepTruth(*((1.0, 0.1, 1.1) if i % 2 else (3.2, 0.8, 3.0))) for i in range(12)))
    assert verdicts(context(ragged), "uneven-tempo") == {None: "flag"}


@pytest.mark.parametrize(
    ("count", "expected"), [(11, {None: "watch"}), (12, {}), (15, {}), (17, {None: "watch"})]
)
def test_a_count_off_the_target_is_a_fact_of_the_set_and_no_fault(count, expected):
    ctx = context(SetTruth((RepTruth(),) * count))
    assert verdicts(ctx, "rep-target") == expected
    assert [f.reason for f in findings(ctx, "rep-target")] == [A_FACT if expected else None]


def test_a_partial_repetition_is_named_once_and_not_judged_for_tempo():
    reps = [RepTruth()] * 12
    reps[4] = RepTruth(lift_s=0.6, lower_s=0.6, share=0.5)
    ctx = context(SetTruth(tuple(reps)))
    assert verdicts(ctx, "short-range") == {5: "flag"}
    assert 5 not in [f.rep for f in findings(ctx, "too-fast")]


def test_a_hidden_limb_is_cannot_tell_with_a_reason():
    ctx = context(SetTruth((RepTruth(),) * 12))
    rep = ctx.reps.reps[2]
    hidden = (ctx.track.time_s > rep.start_s) & (ctx.track.time_s < rep.end_s)
    ctx.signals["trunk"].values[hidden] = np.nan
    found = next(f for f in findings(ctx, "chest-drop") if f.rep == 3)
    assert (found.verdict, found.measured, found.reason_code) == ("cannot-tell", None, "limb-hidden")


def test_a_finding_is_shown_in_the_frame_nearest_to_its_moment(monkeypatch):
    """Frames come ten a second, as they are looked at; in the clip every third has its number."""
    ctx = context(SetTruth((RepTruth(),) * 3))
    frames = [(i / 10, 3 * i) for i in range(100)]

    def at(ctx, spec, params):
        return [
            Measurement(rep=1, value=170.0, uncertainty=4.0, unit="deg", time_s=t) for t in (4.14, 4.16, 4.2)
        ]

    monkeypatch.setitem(CHECKS, "angle_at_end", replace(CHECKS["angle_at_end"], function=at))
    shown = [f for f in judge_reps(ctx, bind(LEG), frames, cleared=False) if f.check == "knee-lockout"]
    assert [(f.time_s, f.frame) for f in shown] == [(4.1, 123), (4.2, 126), (4.2, 126)]


def test_a_check_that_fails_is_cannot_tell_and_loses_nothing_else(monkeypatch):
    def broken(ctx, spec, params):
        raise ZeroDivisionError

    monkeypatch.setitem(CHECKS, "angle_at_end", replace(CHECKS["angle_at_end"], function=broken))
    ctx = context(SetTruth((RepTruth(),) * 12))
    found = findings(ctx, "knee-lockout")
    assert len(found) == 12
    assert {(f.verdict, f.reason_code) for f in found} == {("cannot-tell", "check-failed")}
    assert len(findings(ctx, "too-fast")) == 12


def test_from_too_far_off_the_view_no_repetition_is_called_short_but_haste_is_still_told():
    """A movement takes as long from wherever it is seen."""
    ctx = context(SetTruth((RepTruth(lift_s=0.5, lower_s=0.5),) * 8))
    drive = ctx.exercise.drive.signal
    ctx.signals[drive] = replace(ctx.signals[drive], unjudgeable="film from the side")
    assert {f.verdict for f in findings(ctx, "too-fast")} == {"flag"}
    told = findings(ctx, "short-range")
    assert {(f.verdict, f.reason) for f in told} == {("cannot-tell", "film from the side")}
    assert len(told) == 8


def test_a_phase_seen_from_far_off_its_view_is_told_less_sure(monkeypatch: pytest.MonkeyPatch) -> None:
    near = context(SetTruth((RepTruth(),) * 8))
    far = replace(near)
    usual = {f.uncertainty for f in findings(near, "too-fast")}
    monkeypatch.setattr(uncertainty, "off_deg", lambda track: 32.0)
    assert min(f.uncertainty for f in findings(far, "too-fast")) > max(usual)
    assert far.learnt.duration_s > near.learnt.duration_s


def test_a_short_phase_is_told_surer_but_no_surer_than_was_proved() -> None:
    ctx = context(SetTruth((RepTruth(lift_s=0.6), *(RepTruth(lift_s=2.0, lower_s=2.0),) * 7)))
    first, second, *_ = (f.uncertainty for f in findings(ctx, "too-fast"))
    assert second == pytest.approx(ctx.learnt.duration_s) and first == pytest.approx(0.6 * second)
    proved = replace(ctx, least=Least(phase_s=0.9 * second))
    assert [f.uncertainty for f in findings(proved, "too-fast")][:2] == pytest.approx([0.9 * second, second])


@pytest.mark.parametrize("check", ["too-fast", "short-range"])
def test_times_and_ranges_of_somebody_small_are_told_less_sure(check: str) -> None:
    near = context(SetTruth((RepTruth(),) * 8))
    small = replace(near, track=replace(near.track, trunk_px=60.0))
    usual, less = ({f.uncertainty for f in findings(ctx, check)} for ctx in (near, small))
    assert min(less) > 1.5 * max(usual)


@pytest.mark.parametrize(("check", "times"), [("too-fast", 2.25), ("short-range", 1.5)])
def test_times_and_ranges_of_a_picture_that_trembles_are_told_less_sure(check: str, times: float) -> None:
    steady = context(SetTruth((RepTruth(),) * 8))
    unsteady = replace(steady, reps=replace(steady.reps, unsteady=2.25))
    usual, less = ({f.uncertainty for f in findings(ctx, check)} for ctx in (steady, unsteady))
    assert min(less) == pytest.approx(times * min(usual))
