"""Who sat on the machine and when they trained: stick people over minutes, seen a few times a second."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest

from shared.domain import Landmarks
from tests.people import landmarks, seated
from vision.measuring.reps.sittings import Bout, find_bouts, find_sittings
from vision.recording import MARGIN_S, cuts, where

RATE_HZ = 2.5
MINUTES = np.arange(0, 180, 1 / RATE_HZ)
REP_S = 4.0


def trains(*spans: tuple[float, float]) -> np.ndarray:
    """A knee that bends and stretches in these spans (s) and rests at 90 degrees else."""
    knee = np.full(len(MINUTES), 90.0)
    for start_s, end_s in spans:
        now = (start_s <= MINUTES) & (end_s >= MINUTES)
        knee[now] += 40.0 * (1 - np.cos(2 * np.pi * (MINUTES[now] - start_s) / REP_S))
    return knee


def handled(moments: Iterable[float]) -> np.ndarray:
    """A knee that bends within two seconds at each moment (s), or back again, and rests between."""
    knee, bent = np.full(len(MINUTES), 90.0), 0.0
    for moment_s in moments:
        bent = 80.0 - bent
        way = np.clip((MINUTES - moment_s) / 2.0, 0, 1)
        knee = np.where(moment_s <= MINUTES, 90.0 + (80.0 - bent) + (2 * bent - 80.0) * way, knee)
    return knee


def person(knee: np.ndarray, here: tuple[float, float] = (0.0, 180.0), **more: object) -> np.ndarray:
    points = seated(knee, **more)  # type: ignore[arg-type]
    points[(here[0] > MINUTES) | (here[1] < MINUTES)] = np.nan
    return points


def survey(*people: np.ndarray) -> Landmarks:
    return landmarks(*people, rate_hz=RATE_HZ)


def found(*people: np.ndarray) -> list[Bout]:
    seen = survey(*people)
    return find_bouts(seen, find_sittings(seen))


def assert_spans(bouts: list[Bout], *spans: tuple[float, float]) -> None:
    assert [(bout.start_s, bout.end_s) for bout in bouts] == [pytest.approx(span, abs=2.5) for span in spans]


def test_a_set_is_found_where_it_is() -> None:
    assert_spans(found(person(trains((60, 100)))), (60, 100))


def test_who_sits_without_training_makes_no_bout() -> None:
    assert found(person(trains())) == []


@pytest.mark.parametrize(("lean_deg", "sets"), [(-35.0, 1), (35.0, 1), (55.0, 0)])
def test_who_bends_over_the_seat_and_pulls_at_it_does_not_train(lean_deg: float, sets: int) -> None:
    assert len(found(person(trains((60, 100)), pitch_deg=lean_deg))) == sets


def test_two_repetitions_are_looked_at_by_nobody() -> None:
    assert found(person(trains((60, 67)))) == []


def test_five_repetitions_are_a_set() -> None:
    assert_spans(found(person(trains((60, 80)))), (60, 80))


@pytest.mark.parametrize(("pause_s", "sets"), [(12.0, 1), (40.0, 2)])
def test_a_short_pause_is_within_a_set_and_a_long_one_between_two(pause_s: float, sets: int) -> None:
    bouts = found(person(trains((20, 60), (60 + pause_s, 100 + pause_s))))
    assert len(bouts) == sets and {bout.sitting for bout in bouts} == {0}
    assert sum(bout.swings for bout in bouts) == 2 * 80 / REP_S


def test_who_takes_the_handles_now_and_then_makes_no_bout() -> None:
    assert found(person(handled(range(20, 100, 9)))) == []


def test_reaching_before_and_after_a_set_is_left_out() -> None:
    knee = np.maximum(handled([15, 24, 33, 42, 130, 139]), trains((60, 100)))
    assert_spans(found(person(knee)), (60, 100))


def test_a_try_of_two_repetitions_belongs_to_the_set() -> None:
    assert_spans(found(person(trains((40, 48), (58, 90)))), (40, 90))


def test_two_in_turn_are_two_sittings() -> None:
    first, second = person(trains((10, 50)), here=(5, 60)), person(trains((110, 150)), here=(90, 160))
    bouts = found(first, second)
    assert_spans(bouts, (10, 50), (110, 150))
    assert [bout.sitting for bout in bouts] == [0, 1]


def test_who_is_not_seen_for_a_moment_keeps_the_seat() -> None:
    points = person(trains((20, 60), (100, 140)))
    points[(MINUTES > 79) & (MINUTES < 80.5)] = np.nan
    assert {bout.sitting for bout in found(points)} == {0}


def test_who_stands_and_moves_an_arm_is_no_set() -> None:
    points = person(trains((20, 60)))
    hips = points[:, 23:25].copy()
    points[:, 25:27] = hips + np.array([0.0, 170.0, 0.0])  # knees under the hips
    assert found(points) == []


def test_people_on_two_seats_are_told_apart_by_place() -> None:
    left, right = person(trains((20, 60))), person(trains((90, 130)), at=(620.0, 640.0))
    bouts = found(left, right)
    assert_spans(bouts, (20, 60), (90, 130))
    assert [bout.sitting for bout in bouts] == [0, 1]


def test_who_is_meant_is_pointed_at_where_two_sit_at_the_same_time() -> None:
    seen = survey(person(trains((20, 60))), person(trains((30, 70)), at=(620.0, 640.0)))
    sittings = find_sittings(seen)
    one, other = cuts(find_bouts(seen, sittings), 180.0)
    assert where(seen, sittings, one)[:2] == pytest.approx((300.0, 540.0), abs=20.0)  # type: ignore[index]
    assert where(seen, sittings, other)[:2] == pytest.approx((620.0, 540.0), abs=20.0)  # type: ignore[index]
    alone = survey(person(trains((20, 60))))
    assert where(alone, find_sittings(alone), one) is None


def test_a_cut_keeps_five_seconds_and_never_runs_into_the_next_set() -> None:
    one, two, three = cuts([Bout(0, 20.0, 50.0, 9), Bout(0, 62.0, 90.0, 9), Bout(1, 150.0, 170.0, 9)], 172.0)
    assert (one.cut_start_s, one.cut_end_s) == (20.0 - MARGIN_S, 56.0)
    assert (two.cut_start_s, two.cut_end_s) == (56.0, 90.0 + MARGIN_S)
    assert (three.cut_start_s, three.cut_end_s) == (150.0 - MARGIN_S, 172.0)
    assert MARGIN_S >= 5.0


def test_who_trains_beside_somebody_keeps_the_five_seconds() -> None:
    _, other = cuts([Bout(0, 20.0, 50.0, 9), Bout(1, 40.0, 70.0, 9)], 200.0)
    assert (other.cut_start_s, other.cut_end_s) == (40.0 - MARGIN_S, 70.0 + MARGIN_S)
