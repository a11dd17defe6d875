"""Angles of a set whose joint seems to move unlike in those that were learnt from."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import RepSet, Signal
from shared.exercise import find_exercise
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.measuring.learnt.data import load_learnt
from vision.measuring.learnt.unusual_range import less_sure
from vision.measuring.reps.find_reps import find_reps

NAME = "lat-pulldown"
LOW, HIGH = load_learnt(NAME).drive_span["side"]


def told(span: float) -> tuple[Signal, RepSet]:
    """A drive that goes so far, degrees, and its repetitions."""
    drive = drive_signal(SetTruth((RepTruth(),) * 6, low=60.0, range=span))
    reps = find_reps(drive, "rising")
    assert reps is not None
    return drive, reps


def test_a_usual_range_is_as_sure_as_was_learnt() -> None:
    drive, reps = told((LOW + HIGH) / 2)
    assert less_sure(drive, reps, find_exercise(NAME), "side") == (drive, [])


@pytest.mark.parametrize(("span", "how"), [(LOW - 35.0, "less"), (HIGH + 35.0, "more")])
def test_an_elbow_that_seems_to_move_unlike_others_is_less_sure_and_said_to_be(span: float, how: str) -> None:
    drive, reps = told(span)
    surely, notes = less_sure(drive, reps, find_exercise(NAME), "side")
    assert surely.clip_half == pytest.approx(np.hypot(drive.clip_half, 35.0), abs=3.0)
    assert len(notes) == 1 and notes[0].startswith(f"The elbows seem to move {how} than usual")


def test_what_is_usual_for_a_member_is_not_unusual() -> None:
    drive, reps = told(LOW - 35.0)
    surely, notes = less_sure(drive, reps, find_exercise(NAME), "side", own_range=LOW - 35.0)
    assert surely.clip_half == pytest.approx(drive.clip_half, abs=0.5) and notes == []


def test_a_little_beyond_is_not_spoken_of() -> None:
    drive, reps = told(LOW - 6.0)
    surely, notes = less_sure(drive, reps, find_exercise(NAME), "side")
    assert surely.clip_half > drive.clip_half and notes == []


@pytest.mark.parametrize(("name", "view"), [("leg-extension", "side"), (NAME, "front")])
def test_where_no_range_was_learnt_nothing_changes(name: str, view: str) -> None:
    drive, reps = told(20.0)
    assert less_sure(drive, reps, find_exercise(name), view) == (drive, [])


def test_an_angle_that_is_not_judged_gets_no_second_reason_to_film_again() -> None:
    drive, reps = told(LOW - 35.0)
    wrong = replace(
        drive, unjudgeable="the phone stands 40 degrees off the side view; film straight from the side"
    )
    assert less_sure(wrong, reps, find_exercise(NAME), "side") == (wrong, [])
