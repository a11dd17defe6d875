"""Where a clip stops being fit to judge: each threshold of docs/fit-to-judge.md from both sides."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.exercise import exercise_names, find_exercise
from shared.keypoints import INDEX
from tests.people import CLIP, landmarks, seated
from tests.synthetic import RepTruth, SetTruth
from vision.judging.bind import bind
from vision.judging.quality import (
    clip_problems,
    lost_limbs,
    may_show_in_another_look,
    picture_problems,
    subject_problems,
    unclear_problems,
)
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.signals.signal import compute_signals
from vision.measuring.track.build import build_track

LEG, FLY = find_exercise("leg-extension"), find_exercise("chest-fly")
KNEE = 120.0 - 30.0 * np.cos(2 * np.pi * np.arange(300) / 30.0 / 3.0)


def codes(people: Landmarks, exercise=LEG, **view: float) -> list[str]:
    """What stands against a clip of ten seconds in which no set was looked for, but for that."""
    track = build_track(people, CLIP, exercise.limbs, may_hide=exercise.may_hide)
    track = replace(track, view=replace(track.view, **view), facing=0 if view else track.facing)
    found = [p.code for p in subject_problems(people, track, None, exercise)]
    return [code for code in found if code != "no-set"]


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({"fps_mean": 20.1}, []),
        ({"fps_mean": 19.9}, ["low-frame-rate"]),
        ({"duration_s": 5.1}, []),
        ({"duration_s": 4.9}, ["too-short"]),
    ],
)
def test_a_clip_has_twenty_pictures_a_second_and_five_seconds(facts, expected) -> None:
    assert [p.code for p in clip_problems(replace(CLIP, **facts))] == expected


@pytest.mark.parametrize(
    ("luma", "sharp", "expected"),
    [(35.0, 0.13, []), (33.0, 0.13, ["too-dark"]), (35.0, 0.11, ["too-blurred"])],
)
def test_a_picture_is_light_and_sharp_enough(luma, sharp, expected) -> None:
    assert [p.code for p in picture_problems(luma, sharp)] == expected


@pytest.mark.parametrize(("strayed", "expected"), [(0.19, []), (0.21, ["limb-unclear"])])
def test_the_limb_at_the_load_is_guessed_in_a_fifth_of_the_looks_at_most(strayed, expected) -> None:
    found = unclear_problems(strayed, LEG)
    assert [p.code for p in found] == expected
    assert all("foot can hardly be made out" in p.text for p in found)


def test_what_one_look_guesses_another_may_see() -> None:
    assert may_show_in_another_look(unclear_problems(0.3, LEG))
    assert not may_show_in_another_look(picture_problems(luma=10.0, sharp=0.3))


@pytest.mark.parametrize(("yaw_deg", "expected"), [(33.0, []), (38.0, ["wrong-view"])])
@pytest.mark.parametrize("way", [1, -1])
def test_the_camera_stands_within_35_degrees_of_its_view(way, yaw_deg, expected) -> None:
    front = FLY.model_copy(update={"views": FLY.views[:1]})
    assert front.views[0].name == "front"
    assert codes(landmarks(seated(KNEE)), front, yaw_deg=way * yaw_deg) == expected


@pytest.mark.parametrize(("share", "expected"), [(0.08, []), (0.13, ["limb-out-of-picture"])])
def test_a_limb_may_be_out_of_the_picture_for_a_tenth(share, expected) -> None:
    points = seated(KNEE)
    points[: round(share * len(KNEE)), INDEX["right_ankle"], 0] = CLIP.width + 5.0
    assert codes(landmarks(points)) == expected


@pytest.mark.parametrize(("share", "expected"), [(0.08, []), (0.13, ["limb-hidden"])])
def test_a_limb_may_be_hidden_for_a_tenth(share, expected) -> None:
    people = landmarks(seated(KNEE))
    people.visibility[: round(share * len(KNEE)), 0, INDEX["right_ankle"]] = 0.1
    assert codes(people) == expected


@pytest.mark.parametrize(("share", "expected"), [(0.3, []), (0.4, ["limb-hidden"])])
def test_the_person_may_be_lost_for_a_third_of_the_time(share, expected) -> None:
    """In the pictures looked at; the track does not say so, its gaps are told by limb."""
    people = landmarks(seated(KNEE))
    lost = replace(people, image_px=people.image_px.copy())
    lost.image_px[100 : 100 + round(share * len(KNEE))] = np.nan
    track = build_track(people, CLIP, LEG.limbs)
    found = [p.code for p in subject_problems(lost, track, None, LEG)]
    assert [code for code in found if code != "no-set"] == expected


def _standing(share: float) -> np.ndarray:
    """Somebody whose knees lie so many trunk lengths (200 px) under the hips."""
    points = seated(KNEE)
    for part in ("knee", "ankle", "heel", "foot_index"):
        for side in ("left", "right"):
            points[:, INDEX[f"{side}_{part}"], :2] = points[:, INDEX[f"{side}_hip"], :2] + (
                0.0,
                share * 200.0,
            )
    return points


@pytest.mark.parametrize(("share", "expected"), [(0.6, []), (0.75, ["standing"])])
def test_who_stands_is_on_no_machine_that_is_sat_on(share, expected) -> None:
    somebody = landmarks(_standing(share))
    assert codes(somebody, FLY.model_copy(update={"views": LEG.views})) == expected
    standing_allowed = FLY.model_copy(update={"views": LEG.views, "seated": False})
    assert codes(somebody, standing_allowed) == []


def test_knees_that_are_not_seen_stand_nowhere() -> None:
    somebody = landmarks(_standing(0.9))
    somebody.visibility[:, 0, [INDEX["left_knee"], INDEX["right_knee"]]] = 0.4
    assert codes(somebody, FLY.model_copy(update={"views": LEG.views})) == []


def test_all_shipped_machines_are_sat_on() -> None:
    assert all(find_exercise(name).seated for name in exercise_names())


def test_a_repetition_beside_which_the_person_was_lost_is_not_told() -> None:
    """Nobody knows how far it went, though all of it that is listed was seen."""
    truth = SetTruth((RepTruth(rest_s=1.6),) * 5)
    people = landmarks(seated(truth.drive(np.arange(0, truth.duration_s, 1 / 30))))
    third_s = truth.bounds()[2][3]
    rows = (people.time_s > third_s + 0.1) & (people.time_s < third_s + 1.2)
    people.image_px[rows], people.world_m[rows] = np.nan, np.nan
    track = build_track(people, CLIP, LEG.limbs)
    reps = find_reps(
        compute_signals(track, bind(LEG).signals, LEG, keep_raw=True)[LEG.drive.signal], LEG.drive.lift
    )
    assert [rep.number for rep in reps.full] == [1, 2, 3, 4, 5]
    assert list(lost_limbs(people, track, reps, LEG)) == [3]
