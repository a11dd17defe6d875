"""The calves against a marked edge of the seat, in figures worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import Signal
from shared.keypoints import INDEX
from tests.check_sets import context, found, track
from tests.unit.test_pivot import mark, slipped
from vision.measuring.machine.seat_edge import CALF_TRUNK, seat_signal
from vision.measuring.machine.shown import Machine

TIME = np.arange(30) / 30
KNEE, ANKLE = (400.0, 600.0), (400.0, 760.0)


def gap(edge: tuple[float, float], facing: int = 1) -> Signal | None:
    """A hanging shank, a trunk of 200 px."""
    one = track("side", TIME)
    one.points_px[:, INDEX["left_knee"]], one.points_px[:, INDEX["left_ankle"]] = KNEE, ANKLE
    object.__setattr__(one, "facing", facing)
    return seat_signal(mark(one, "seat", *edge, 0.0), one)


@pytest.mark.parametrize("facing", [1, -1])
@pytest.mark.parametrize("short", [0.0, 0.1, -0.03])
def test_the_gap_is_counted_from_the_calfs_back(facing: int, short: float) -> None:
    found_ = gap((400.0 - facing * 200.0 * (CALF_TRUNK + short), 660.0), facing)
    assert found_ is not None
    assert found_.values == pytest.approx(short, abs=1e-9)


def test_an_edge_is_marked_in_the_picture_and_the_calf_is_held_against_it_there() -> None:
    one = track("side", TIME)
    one.points_px[:, INDEX["left_knee"]], one.points_px[:, INDEX["left_ankle"]] = KNEE, ANKLE
    moved, [edge] = slipped(one, (400.0 - 200.0 * CALF_TRUNK, 660.0))
    found_ = seat_signal(mark(moved, "seat", *edge, 0.0), moved)
    assert found_ is not None and found_.values == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("edge", [(420.0, 660.0), (370.0, 590.0), (370.0, 770.0)])
def test_an_edge_that_is_not_behind_the_shank_gives_no_gap(edge: tuple[float, float]) -> None:
    found_ = gap(edge)
    assert found_ is not None
    assert np.isnan(found_.values).all()


def test_a_seat_says_nothing_but_from_the_side() -> None:
    assert gap((370.0, 660.0), facing=0) is None


@pytest.mark.parametrize(
    ("value", "half", "verdict"),
    [
        (0.0, 0.09, "clear"),
        (0.07, 0.09, "clear"),
        (0.1, 0.09, "watch"),
        (0.5, 0.09, "watch"),
        (0.1, 0.13, "cannot-tell"),
    ],
)
def test_a_gap_is_at_most_a_question(value: float, half: float, verdict: str) -> None:
    (one,) = judged(value, half)
    assert (one.verdict, one.prompt) == (verdict, None)
    if verdict == "watch":
        assert one.reason == "from repetition 1 on"


def test_a_mark_elsewhere_cannot_tell() -> None:
    (one,) = judged(float("nan"), 0.09)
    assert one.verdict == "cannot-tell"
    assert one.reason is not None and "does not lie behind the calves" in one.reason


def test_without_the_mark_nothing_is_said_of_the_seat() -> None:
    assert found(context("leg-curl"), "calves-off-seat") == []


def judged(value: float, half: float):
    ctx = context("leg-curl")
    n = len(ctx.drive.time_s)
    signal = Signal("seat_gap", "trunk_fraction", ctx.drive.time_s, np.full(n, value), np.zeros(n), half)
    object.__setattr__(ctx, "machine", Machine(signals={"seat_gap": signal}))
    return found(ctx, "calves-off-seat")
