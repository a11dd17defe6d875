"""The trunk and the hips against a marked back pad, in figures worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import Signal
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from tests.check_sets import context, found, track
from tests.unit.test_pivot import mark, slipped
from vision.measuring.machine.pad import AGAINST_TRUNK, pad_signals
from vision.measuring.machine.shown import Machine

TIME = np.arange(30) / 30
#: Upright pad of 200 px; the person faces right, a trunk is 200 px.
LOWER, UPPER = (300.0, 600.0), (300.0, 400.0)


def seen(hip: tuple[float, float], shoulder: tuple[float, float], facing: int = 1):
    one = track("side", TIME)
    one.points_px[:, INDEX["left_hip"]], one.points_px[:, INDEX["left_shoulder"]] = hip, shoulder
    object.__setattr__(one, "facing", facing)
    ends = [mark(one, "pad", *LOWER, 0.0), mark(one, "pad_end", *UPPER, 0.0)]
    forward, back = pad_signals(*ends, one), pad_signals(*reversed(ends), one)
    assert {k: s.values.tolist() for k, s in forward.items()} == {
        k: s.values.tolist() for k, s in back.items()
    }
    return forward


def test_who_sits_against_the_pad_has_no_gap_and_no_lean() -> None:
    x = LOWER[0] + AGAINST_TRUNK * 200.0
    signals = seen((x, 600.0), (x, 400.0))
    assert signals["pad_gap"].values == pytest.approx(0.0, abs=1e-9)
    assert signals["pad_lean"].values == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("facing", [1, -1])
def test_lean_and_gap_are_positive_ahead(facing: int) -> None:
    x = LOWER[0] + facing * (AGAINST_TRUNK * 200.0 + 20.0)
    signals = seen((x, 600.0), (x + facing * 200.0 * np.tan(np.radians(15.0)), 400.0), facing)
    assert signals["pad_gap"].values == pytest.approx(0.1)
    assert signals["pad_lean"].values == pytest.approx(15.0)


def test_a_pad_is_marked_in_the_picture_and_the_body_is_held_against_it_there() -> None:
    one, x = track("side", TIME), LOWER[0] + AGAINST_TRUNK * 200.0
    one.points_px[:, INDEX["left_hip"]], one.points_px[:, INDEX["left_shoulder"]] = (x, 600.0), (x, 400.0)
    moved, ends = slipped(one, LOWER, UPPER)
    signals = pad_signals(*(mark(moved, "pad", *end, 0.0) for end in ends), moved)
    assert signals["pad_gap"].values == pytest.approx(0.0, abs=1e-6)
    assert signals["pad_lean"].values == pytest.approx(0.0, abs=1e-6)


def test_a_pad_says_nothing_but_from_the_side() -> None:
    assert seen((340.0, 600.0), (340.0, 400.0), facing=0) == {}


@pytest.mark.parametrize(
    ("name", "check", "value", "verdict"),
    [
        ("pad_lean", "back-off-pad", 4.0, "clear"),
        ("pad_lean", "back-off-pad", 13.0, "watch"),
        ("pad_lean", "back-off-pad", 25.0, "flag"),
        ("pad_gap", "hips-off-pad", 0.02, "clear"),
        ("pad_gap", "hips-off-pad", 0.25, "flag"),
    ],
)
def test_a_fault_that_is_there_from_the_first_repetition_is_told(name, check, value, verdict) -> None:
    ctx = context("leg-extension")
    n, unit = len(ctx.drive.time_s), "deg" if name == "pad_lean" else "trunk_fraction"
    half = 8.0 if unit == "deg" else 0.1
    signal = Signal(name, unit, ctx.drive.time_s, np.full(n, value), np.zeros(n), half)  # type: ignore[arg-type]
    object.__setattr__(ctx, "machine", Machine(signals={name: signal}))
    (one,) = found(ctx, check)
    assert (one.verdict, one.measured) == (verdict, pytest.approx(value))
    assert (one.prompt is not None) == (verdict == "flag")
    if verdict == "flag":
        assert one.reason == "from repetition 1 on"


def test_without_the_mark_nothing_is_said_of_a_pad() -> None:
    for check in ("back-off-pad", "hips-off-pad"):
        assert check in {spec.id for spec in find_exercise("leg-extension").checks}
        assert found(context("leg-extension"), check) == []
