"""Bystanders are painted over before the lifter is looked at closely; the lifter's own body stays."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import Frame
from shared.keypoints import INDEX
from tests.people import CLIP, landmarks, seated
from vision.seeing.follow import PAINT_GAP_S, pick, without_others
from vision.seeing.subject import Subject, find_subject

TIME = np.arange(100) / 5.0
LIFTER = seated(120.0 - 30.0 * np.cos(2 * np.pi * TIME / 3.0))
BYSTANDER = seated(np.full(100, 95.0), at=(560.0, 600.0), trunk=210.0)
WHITE = np.full((CLIP.height, CLIP.width, 3), 255, np.uint8)


def painted(subject: Subject, pose: np.ndarray, part: str, time_s: float = 5.0) -> bool:
    """Whether the place of a part of somebody is painted over at a moment."""
    (frame,) = without_others([Frame(0, time_s, WHITE)], subject)
    x, y = pose[0, INDEX[f"left_{part}"], :2].astype(int)
    return bool((frame.image[y, x] != 255).any())


@pytest.fixture(scope="module")
def lifter() -> Subject:
    found = find_subject(landmarks(LIFTER, BYSTANDER, rate_hz=5.0), CLIP)
    assert found is not None
    return found


@pytest.mark.parametrize("part", ["ear", "hip"])
def test_head_and_trunk_of_who_stands_by_are_painted_over(lifter: Subject, part: str) -> None:
    assert painted(lifter, BYSTANDER, part)
    assert not painted(lifter, LIFTER, part)


def test_who_has_long_gone_is_painted_no_more(lifter: Subject) -> None:
    assert painted(lifter, BYSTANDER, "ear", TIME[-1] + PAINT_GAP_S - 0.1)
    assert not painted(lifter, BYSTANDER, "ear", TIME[-1] + PAINT_GAP_S + 0.1)


def test_a_picture_without_others_is_passed_on_as_it_is() -> None:
    alone = find_subject(landmarks(LIFTER, rate_hz=5.0), CLIP)
    assert alone is not None
    (frame,) = without_others([Frame(0, 5.0, WHITE)], alone)
    assert frame.image is WHITE


def missed_by_the_survey(beside: np.ndarray) -> Subject:
    """The lifter, seen by the survey in the second half only, and somebody beside the machine."""
    late = LIFTER.copy()
    late[:50] = np.nan
    found = find_subject(landmarks(late, beside, rate_hz=5.0), CLIP)
    assert found is not None and found.near
    return found


def test_a_lifter_whom_the_survey_missed_for_half_of_the_clip_is_followed() -> None:
    found = pick(landmarks(LIFTER, rate_hz=5.0), missed_by_the_survey(BYSTANDER))
    assert not np.isnan(found.image_px[:, 0, 0, 0]).any()


def test_somebody_else_in_the_seat_is_not_taken_for_a_lifter_whom_the_survey_missed() -> None:
    leaning = np.repeat(LIFTER[:1], len(LIFTER), axis=0)
    leaning[..., 0] += 95.0
    found = pick(landmarks(leaning, rate_hz=5.0), missed_by_the_survey(leaning))
    assert np.isnan(found.image_px[:45, 0, 0, 0]).all()
