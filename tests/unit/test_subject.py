"""Who is on the machine: stick people who sit, stand by, walk past, and come back."""

from __future__ import annotations

import numpy as np
import pytest

from shared.errors import UsageError
from tests.people import CLIP, landmarks, seated
from vision.common.poses import torso
from vision.seeing.follow import pick
from vision.seeing.subject import SubjectPoint, find_subject

TIME = np.arange(100) / 5.0
KNEE = 120.0 - 30.0 * np.cos(2 * np.pi * TIME / 3.0)
LIFTER = seated(KNEE)
BYSTANDER = seated(np.full(100, 95.0), at=(560.0, 600.0), trunk=210.0)


def walker() -> np.ndarray:
    """Someone of the same size who crosses the picture in the middle of the clip."""
    points = seated(150.0 + 25.0 * np.sin(2 * np.pi * TIME), at=(0.0, 620.0))
    points[..., 0] += 80.0 * (TIME[:, None] - 8.0) * 2
    points[(TIME < 8) | (TIME > 12.5)] = np.nan
    return points


def survey(*people):
    return landmarks(*people, rate_hz=5.0)


def at(subject):
    return np.median(subject.centre_px, axis=0)


@pytest.mark.parametrize("people", [(LIFTER, BYSTANDER), (BYSTANDER, LIFTER), (walker(), BYSTANDER, LIFTER)])
def test_the_one_who_stays_and_moves_is_the_subject(people):
    found = find_subject(survey(*people), CLIP)
    assert np.allclose(at(found), np.median(torso(LIFTER)[0], axis=0), atol=5.0)
    assert found.near


def test_alone_nobody_else_is_looked_for():
    found = find_subject(survey(LIFTER), CLIP)
    assert not found.near


def test_nobody_is_none():
    assert find_subject(survey(np.full_like(LIFTER, np.nan)), CLIP) is None


def test_a_user_may_point_at_someone_else():
    middle = torso(BYSTANDER)[0][0]
    found = find_subject(survey(LIFTER, BYSTANDER), CLIP, SubjectPoint(*middle, 2.0))
    assert np.allclose(at(found), middle, atol=5.0)


def test_pointing_at_nobody_says_what_to_do():
    with pytest.raises(UsageError, match=r"Nobody was found at 700,10 at 0\.0 s; point --subject"):
        find_subject(survey(LIFTER), CLIP, SubjectPoint(700, 10))


def test_two_poses_of_one_person_are_one():
    found = find_subject(survey(LIFTER, LIFTER + 6.0), CLIP)
    assert not found.near


def test_a_long_absence_is_joined_only_at_the_same_place_and_noted():
    away = LIFTER.copy()
    away[40:60] = np.nan
    found = find_subject(survey(away), CLIP)
    assert found.notes[0].startswith("The person was out of sight once")
    assert found.time_s[-1] == pytest.approx(TIME[-1])


def test_the_subject_is_never_stitched_to_a_passer_by():
    hidden = LIFTER.copy()
    hidden[44:60] = np.nan
    found = find_subject(survey(hidden, walker()), CLIP)
    dense = pick(survey(hidden, walker()), found)
    kept = dense.image_px[:, 0]
    known = ~np.isnan(kept[:, 0, 0])
    assert np.allclose(kept[known], hidden[known])
    assert not known[46:58].any()
