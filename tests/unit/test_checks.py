"""Each check of one repetition: a fault well beyond its limit, just beyond it, and just within it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from shared.domain import Signal
from shared.exercise import find_exercise
from shared.limit import beyond
from shared.member import Member, with_member
from tests.check_sets import bump, context, found, set_of
from vision.judging.check import extreme
from vision.measuring.learnt.data import load_learnt

FAULTY = 6


@dataclass(frozen=True)
class Case:
    """A signal that is ``usual`` throughout and moves ``way`` (+1, -1) in one repetition."""

    exercise: str
    check: str
    signal: str
    way: float
    usual: float = 0.0
    at: str = "middle"
    view: str = "side"

    @property
    def name(self) -> str:
        return f"{self.exercise} {self.check} {'up' if self.way > 0 else 'down'}"


CASES = [
    Case("leg-extension", "hip-slide", "hips", 1),
    Case("leg-curl", "head-drop", "head", 1, 10.0),
    Case("leg-extension", "chest-drop", "trunk", 1, -12.0),
    Case("chest-press", "lean-back", "trunk", -1, -12.0),
    Case("lat-pulldown", "head-level", "head", 1, 5.0),
    Case("lat-pulldown", "head-level", "head", -1, 5.0),
    Case("lat-pulldown", "feet-moving", "feet", 1),
    Case("shoulder-press", "feet-moving", "feet", -1),
    Case("lat-pulldown", "shrug", "shoulders", 1, 0.4),
    Case("reverse-fly", "shrug", "shoulders", 1, 0.4, view="rear"),
    Case("lat-pulldown", "hands-push-down", "hands_below_elbows", 1, -0.3),
    Case("lat-pulldown", "hands-high", "hands_over_armpits", 1, 0.06),
    Case("chest-press", "press-height", "hands_over_mid_chest", 1),
    Case("chest-press", "press-height", "hands_over_mid_chest", -1),
    Case("chest-press", "hands-behind", "hands_ahead", -1, 0.5, at="end"),
    Case("chest-fly", "hands-behind", "hands_ahead", -1, 0.08, at="end"),
    Case("reverse-fly", "past-body", "hands_ahead", -1, 0.05),
    Case("chest-fly", "elbow-bend", "elbow", -1, 150.0, view="front"),
    Case("chest-fly", "arm-level", "arm_level", 1, 20.0, at="end", view="front"),
    Case("chest-fly", "uneven-sides", "sides", 1, at="end", view="front"),
    Case("reverse-fly", "uneven-sides", "sides", -1, view="rear"),
    Case("shoulder-press", "uneven-sides", "sides", 1, view="front"),
    Case("shoulder-press", "lean-back", "trunk", -1, -7.0),
]


def _measured(case: Case, size: float):
    """The findings of the case's check, its signal moved by ``size`` in one repetition."""
    exercise, drive, reps = set_of(case.exercise)
    moved = case.usual + case.way * size * bump(reps, FAULTY, drive.time_s, case.at)
    also = exercise.check(case.check).params.get("also", ())
    ctx = context(case.exercise, {name: moved for name in (case.signal, *also)}, view=case.view)
    return ctx, {f.rep: f for f in found(ctx, case.check)}


def _size_for(case: Case, beyond_half_widths: float) -> float:
    """The movement whose answer lies that many of its own half-widths beyond the limit."""
    answers = [over - beyond_half_widths * half_width for _, over, half_width in _answers(case)]
    return float(np.interp(0.0, answers, [size for size, *_ in _answers(case)]))


@cache
def _answers(case: Case) -> list[tuple[float, float, float]]:
    """For four sizes of the movement how far the answer lies beyond the limit, and its half-width."""
    out = []
    for size in np.linspace(0.0, 60.0 if abs(case.usual) > 1 else 1.2, 4).tolist():
        ctx, findings = _measured(case, size)
        one, spec = findings[FAULTY], ctx.exercise.check(case.check)
        out.append((size, beyond(one.measured, *spec.limit.resolved(in_cm=False)), one.uncertainty))
    return out


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_a_fault_is_told_by_how_far_it_lies_beyond_the_limit(case: Case) -> None:
    for half_widths, verdict in ((0.9, "flag"), (0.25, "watch"), (-0.2, "clear")):
        _, findings = _measured(case, _size_for(case, half_widths))
        assert findings[FAULTY].verdict == verdict, findings[FAULTY]
        assert findings[FAULTY].points is not None
        others = {f.verdict for n, f in findings.items() if n != FAULTY}
        assert others == {"clear"}


@pytest.mark.parametrize("case", CASES, ids=lambda c: c.name)
def test_a_set_without_the_fault_is_clear_throughout(case: Case) -> None:
    _, findings = _measured(case, 0.0)
    assert {f.verdict for f in findings.values()} == {"clear"}


@pytest.mark.parametrize(("signal", "check"), [("head", "head-drop"), ("shoulders", "shrug")])
def test_what_a_landmark_follows_in_part_only_is_told_whole(signal: str, check: str) -> None:
    usual, size = (0.0, 30.0) if signal == "head" else (0.4, 0.12)
    case = Case("chest-press", check, signal, 1, usual)
    ctx, findings = _measured(case, size)
    share = load_learnt(ctx.exercise.name).change[ctx.exercise.signals[signal].kind].follows
    assert share < 1.0
    assert findings[FAULTY].measured == pytest.approx(size / share, rel=0.05)


def test_what_shows_against_the_hips_alone_is_no_shrug() -> None:
    lifted = 0.05 * bump(context("chest-press").reps, FAULTY, context("chest-press").track.time_s)
    both = found(context("chest-press", {"shoulders": lifted, "neck": lifted}), "shrug")
    alone = found(context("chest-press", {"shoulders": lifted, "neck": 0.0}), "shrug")
    assert both[FAULTY - 1].verdict == "flag" and alone[FAULTY - 1].verdict == "clear"


def test_a_set_is_as_unsure_as_its_first_repetitions_are_unlike() -> None:
    ctx = context("chest-fly", view="front")
    time_s = ctx.track.time_s
    jump = 0.25 * bump(ctx.reps, 6, time_s, "end")
    first = sum(size * bump(ctx.reps, i + 1, time_s, "end") for i, size in enumerate((0.18, -0.18, 0.0)))
    assert found(context("chest-fly", {"sides": jump}, view="front"), "uneven-sides")[5].verdict == "flag"
    unlike = found(context("chest-fly", {"sides": jump + first}, view="front"), "uneven-sides")[5]
    assert unlike.verdict == "cannot-tell" and unlike.reason_code == "too-uncertain"


@pytest.mark.parametrize(
    ("exercise", "check", "view", "where"),
    [
        ("chest-fly", "hands-behind", "front", "side"),
        ("chest-fly", "chest-drop", "front", "side"),
        ("reverse-fly", "past-body", "rear", "side"),
        ("reverse-fly", "chest-drop", "front", "side"),
        ("shoulder-press", "uneven-sides", "side", "front or rear"),
        ("shoulder-press", "lean-back", "front", "side"),
        ("shoulder-press", "shrug", "front", "side"),
    ],
)
def test_a_view_that_cannot_show_it_says_which_would(
    exercise: str, check: str, view: str, where: str
) -> None:
    findings = found(context(exercise, view=view), check)
    assert {f.verdict for f in findings} == {"cannot-tell"}
    assert {f.reason_code for f in findings} == {"view"}
    assert all(f.reason is not None and f"film from the {where}" in f.reason for f in findings)


def test_one_bad_frame_decides_nothing_where_moments_were_left_out() -> None:
    """The first sample stands a second before the others, as where only one end of a repetition counts."""
    time_s = np.r_[0.0, 1.0 + np.arange(30) / 30]
    values = np.where(np.arange(31) == 15, 30.0, 0.0)
    part = Signal("trunk", "deg", time_s, values, np.zeros(31), 5.0)
    held = extreme(part, 1.0)
    assert held is not None and held[0] == 0.0


def test_a_moderate_arch_counts_once_the_hips_slide_as_well() -> None:
    _, drive, reps = set_of("shoulder-press")
    sixth = bump(reps, FAULTY, drive.time_s)
    arch = {"trunk": -7.0 - 6.5 * sixth}
    alone = {f.rep: f for f in found(context("shoulder-press", arch), "lean-back")}
    both = {f.rep: f for f in found(context("shoulder-press", {**arch, "hips": 0.12 * sixth}), "lean-back")}
    assert alone[FAULTY].verdict == "clear" and alone[FAULTY].reason is None
    assert both[FAULTY].verdict == "flag" and "limit is 4 degrees" in (both[FAULTY].reason or "")


def test_a_new_member_has_the_stricter_limit_and_their_own_comes_first() -> None:
    press = find_exercise("chest-press")
    usual = press.check("hands-behind").limit.resolved(True)[0]
    new = with_member(press, Member(new=True)).check("hands-behind").limit.resolved(True)[0]
    assert usual is not None and new is not None and new > usual
    assert with_member(press, Member()).check("hands-behind") == press.check("hands-behind")


@pytest.mark.parametrize(
    ("exercise", "check", "key"),
    [("leg-curl", "short-lift-end", "at_least"), ("leg-extension", "short-load-down-end", "at_least")],
)
def test_a_members_own_range_takes_the_place_of_a_short_end(exercise: str, check: str, key: str) -> None:
    own = Member.model_validate({"exercises": {exercise: {"range": {key: 100.0}}}})
    ids = [spec.id for spec in with_member(find_exercise(exercise), own).checks]
    assert check not in ids and "own-range-min" in ids


@pytest.mark.parametrize(
    ("exercise", "check", "signal", "view"),
    [
        ("lat-pulldown", "head-level", "head", "side"),
        ("chest-fly", "arm-level", "arm_level", "front"),
        ("chest-press", "chest-drop", "trunk", "side"),
    ],
)
def test_a_repetition_of_which_a_glimpse_was_seen_is_not_judged_by_it(
    exercise: str, check: str, signal: str, view: str
) -> None:
    """Three looks at the end that counts, far off the usual; the rest of the repetition was hidden."""
    _, drive, reps = set_of(exercise)
    rep, time_s = reps.reps[FAULTY - 1], drive.time_s
    end_s = rep.end_s if check == "arm-level" else (rep.turn_s + rep.lower_start_s) / 2
    values = np.where((time_s > rep.start_s) & (time_s < rep.end_s), np.nan, 0.0)
    values[np.argsort(np.abs(time_s - end_s))[:3]] = 60.0
    findings = {f.rep: f for f in found(context(exercise, {signal: values}, view=view), check)}
    assert (findings[FAULTY].verdict, findings[FAULTY].reason_code) == ("cannot-tell", "limb-hidden")
    assert {f.verdict for n, f in findings.items() if n != FAULTY} == {"clear"}


@pytest.mark.parametrize("name", ["chest-fly", "reverse-fly"])
@pytest.mark.parametrize("check", ["rep-target", "too-fast", "short-range"])
def test_what_hands_that_come_together_hide_from_the_side_is_left_to_the_other_view(
    name: str, check: str
) -> None:
    assert {f.reason_code for f in found(context(name, view="side"), check)} == {"view"}
