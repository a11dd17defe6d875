"""Another machine's movement is named only when it cannot be the one that was given."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from shared.domain import Clip, Landmarks, Track
from shared.exercise import FOLDER, exercise_names, find_exercise
from shared.keypoints import INDEX, KEYPOINTS
from tests.people import CLIP, landmarks, seated, world_of
from tests.stick_sets import RATE, judge_landmarks, knee_motion
from vision.judging.guess import guess_words, likely_machines, movement_of
from vision.measuring.measure import stays
from vision.measuring.track.build import build_track

TRUNK = 200.0
SAMPLES = Path(__file__).parents[2] / "sample_clips"
YAW = {"front": 0.0, "side-left": 90.0, "side-right": -90.0, "rear": 180.0}
TRUTHS = sorted(SAMPLES.glob("*.truth.npz"))


def _hands(lower: tuple[float, float], upper: tuple[float, float], share: np.ndarray) -> np.ndarray:
    """Side view, knees still: hands go from one place to the other, in trunks before and over the shoulder.

    The elbow lies where upper arm and forearm, 0.48 trunks each, meet below the hand's line.
    """
    points = seated(np.full(len(share), 95.0), trunk=TRUNK)
    place = np.array(lower) + share[:, None] * (np.array(upper) - np.array(lower))
    half = np.linalg.norm(place, axis=-1, keepdims=True) / 2.0
    out = np.sqrt(np.maximum(0.48**2 - half**2, 0.0))
    along = place / (2.0 * half)
    elbow = half * along + out * np.stack([along[:, 1], -along[:, 0]], axis=-1)
    for side in ("left", "right"):
        shoulder = points[:, INDEX[f"{side}_shoulder"], :2]
        for part, where in (("wrist", place), ("elbow", elbow)):
            points[:, INDEX[f"{side}_{part}"], :2] = shoulder + TRUNK * where * np.array([1.0, -1.0])
    return points


def _fits(track: Track) -> set[str]:
    """The shipped machines that a movement may be of."""
    movement = movement_of(track, stays(track))
    return set() if movement is None else {n for n in exercise_names() if movement.fits(find_exercise(n))}


def _share(reps: int = 8) -> np.ndarray:
    return knee_motion(reps, low=0.0, range_deg=1.0)


def _flies(share: np.ndarray, rear: bool) -> Landmarks:
    """From the front or behind: straight arms between wide open (0) and closed (1), on one level."""
    sign = -1.0 if rear else 1.0
    points = np.zeros((len(share), len(KEYPOINTS), 3))
    reach = 0.95 * np.sin(np.radians(80.0 * (1.0 - share)))
    for name, out, down in (
        ("shoulder", 0.35, 0.0),
        ("hip", 0.2, 1.0),
        ("knee", 0.3, 1.3),
        ("ankle", 0.3, 2.0),
    ):
        for side, way in (("left", 1.0), ("right", -1.0)):
            points[:, INDEX[f"{side}_{name}"], :2] = (360 + sign * way * out * TRUNK, 400 + down * TRUNK)
    for side, way in (("left", 1.0), ("right", -1.0)):
        for part, far in (("elbow", 0.55), ("wrist", 1.0), ("index", 1.1)):
            x = 360 + sign * way * (0.35 + far * reach) * TRUNK
            points[:, INDEX[f"{side}_{part}"], :2] = np.stack([x, np.full(len(share), 410.0)], axis=-1)
    points[:, INDEX["nose"], :2] = (360, 330)
    people = landmarks(points)
    world = points / TRUNK * 0.5
    return Landmarks(
        people.frame, people.time_s, people.image_px, world[:, None], people.visibility, people.presence
    )


def _track(people: Landmarks, clip: Clip = CLIP) -> Track:
    track = build_track(people, clip, ("shoulder", "hip", "knee", "wrist"))
    assert track is not None
    return track


OVER_LOW, OVER_HIGH = (0.15, 0.05), (0.1, 0.9)
LEVEL_LOW, LEVEL_HIGH = (0.2, -0.15), (0.9, -0.15)
ANY_FLY_OR_PRESS = {"chest-press", "chest-fly", "reverse-fly"}
MOVEMENTS = [
    ("legs from bent", landmarks(seated(knee_motion())), {"leg-extension"}),
    ("legs from straight", landmarks(seated(260.0 - knee_motion())), {"leg-curl"}),
    ("hands up from the shoulder", landmarks(_hands(OVER_LOW, OVER_HIGH, _share())), {"shoulder-press"}),
    ("hands down from overhead", landmarks(_hands(OVER_HIGH, OVER_LOW, _share())), {"lat-pulldown"}),
    ("hands forward", landmarks(_hands(LEVEL_LOW, LEVEL_HIGH, _share())), ANY_FLY_OR_PRESS),
    ("arms closing, from the front", _flies(_share(), rear=False), {"chest-fly"}),
    ("arms opening, from behind", _flies(1.0 - _share(), rear=True), {"reverse-fly"}),
    ("arms closing, from behind", _flies(_share(), rear=True), {"chest-fly", "reverse-fly"}),
    ("nothing moves", landmarks(seated(np.full(900, 95.0))), set()),
]


@pytest.mark.parametrize(("people", "fits"), [m[1:] for m in MOVEMENTS], ids=[m[0] for m in MOVEMENTS])
def test_a_movement_fits_its_machines_alone(people: Landmarks, fits: set[str]) -> None:
    track = _track(people)
    assert _fits(track) == fits
    for name in exercise_names():
        likely = likely_machines(track, find_exercise(name), stays(track))
        assert (not likely) == (not fits or name in fits)


def test_an_exercise_that_says_nothing_of_the_hands_gets_no_guess() -> None:
    track = _track(landmarks(seated(knee_motion())))
    curl = find_exercise("leg-curl")
    assert likely_machines(track, curl, stays(track))
    assert not likely_machines(track, curl.model_copy(update={"hands": None}), stays(track))


def test_a_copy_under_another_name_is_the_same_movement() -> None:
    track = _track(landmarks(seated(knee_motion())))
    own = {name: find_exercise(name).model_copy(update={"name": "own-one"}) for name in exercise_names()}
    assert not likely_machines(track, own["leg-extension"], stays(track))
    likely = likely_machines(track, own["leg-curl"], stays(track))
    assert "looks like leg extension, not like own one" in guess_words(likely, own["leg-curl"])


def test_still_hands_are_told_with_legs_that_bend_alone() -> None:
    track = _track(landmarks(seated(knee_motion())))
    movement, legs = movement_of(track, stays(track)), find_exercise("leg-extension")
    hip = {"knee": legs.signals["knee"].model_copy(update={"params": {"joint": "hip"}})}
    assert movement is not None and movement.fits(legs)
    assert not movement.fits(legs.model_copy(update={"signals": {**legs.signals, **hip}}))


def test_a_definition_at_fault_costs_no_other_its_guess(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for file in FOLDER.glob("leg-*.toml"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / "own.toml").write_text("title = 1", encoding="utf-8")
    curl = find_exercise("leg-curl")
    monkeypatch.setattr("shared.exercise.FOLDER", tmp_path)
    track = _track(landmarks(seated(knee_motion())))
    assert likely_machines(track, curl, stays(track)) == ["leg-extension"]


def test_where_the_rest_is_cut_off_the_two_leg_machines_are_not_told_apart() -> None:
    knee = knee_motion()
    top = int(RATE * (2.0 + 1.7))
    track = _track(landmarks(seated(knee[top:])))
    assert _fits(track) == {"leg-extension", "leg-curl"}


def test_a_leg_that_stands_before_and_after_does_not_pass_for_one_that_rests_straight() -> None:
    knee = knee_motion()
    top = int(RATE * (2.0 + 1.7))
    standing = seated(np.full(60, 175.0))
    for side in ("left", "right"):
        hip = standing[:, INDEX[f"{side}_hip"]]
        for part, down in (("knee", 0.85), ("ankle", 1.7)):
            standing[:, INDEX[f"{side}_{part}"]] = hip + np.array([3.0, down * TRUNK, 0.0])
    cut = np.concatenate([standing, seated(knee[top:-top]), standing])
    track = _track(landmarks(cut))
    assert _fits(track) == {"leg-extension", "leg-curl"}


def test_hands_that_part_in_the_lap_are_no_fly() -> None:
    people = _flies(_share(), rear=False)
    for name in ("left_wrist", "right_wrist"):
        people.image_px[:, 0, INDEX[name], 1] += 0.9 * TRUNK
    track = _track(people)
    assert _fits(track) == set()


def test_limbs_that_move_together_are_no_machine() -> None:
    knee = knee_motion()
    both = _hands(LEVEL_LOW, LEVEL_HIGH, _share())
    both[:, INDEX["right_ankle"]] = seated(knee)[: len(both), INDEX["right_ankle"]]
    track = _track(landmarks(both))
    assert _fits(track) == set()


def test_an_oblique_camera_says_nothing() -> None:
    points = seated(knee_motion())
    people = landmarks(points)
    turned = world_of(points)
    for i, name in enumerate(KEYPOINTS):
        turned[:, i, 0] += (0.15 if name.startswith("left") else -0.15) * (name[0] in "lr")
    oblique = Landmarks(
        people.frame, people.time_s, people.image_px, turned[:, None], people.visibility, people.presence
    )
    track = _track(oblique)
    assert 30 < abs(track.view.yaw_deg) < 60
    assert _fits(track) == set()


def test_the_report_says_so_before_anything_else() -> None:
    report = judge_landmarks(landmarks(seated(knee_motion())), "leg-curl").report
    assert report.notices[0].startswith("This looks like leg extension, not like leg curl")
    assert judge_landmarks(landmarks(seated(knee_motion())), "leg-extension").report.notices == []
    unfit = judge_landmarks(landmarks(seated(knee_motion())), "reverse-fly").report
    assert not unfit.quality.usable
    assert "looks like leg extension" in unfit.notices[0] and len(unfit.notices) == 2


@pytest.mark.skipif(not TRUTHS, reason="no sample clips rendered")
@pytest.mark.parametrize("path", TRUTHS, ids=[p.name.removesuffix(".truth.npz") for p in TRUTHS])
def test_a_rendered_set_is_never_taken_for_another_machine(path: Path) -> None:
    truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    track = _true_track(path, truth)
    own = truth["exercise"]
    fits = _fits(track)
    assert own in fits or (not fits and "faulty" in path.name)
    legs = {"leg-extension", "leg-curl"}
    assert not fits & (legs if own not in legs else set(exercise_names()) - legs)


def _true_track(path: Path, truth: dict[str, object]) -> Track:
    """The track of exact joints of every other frame, on the camera's axes: x right, y down, z away."""
    yaw = np.radians(YAW[str(truth["view"])])
    with np.load(path) as data:
        names = [str(name).replace("toe", "foot_index") for name in data["joint_names"]]
        image = np.zeros((len(data["time_s"][::2]), 1, len(KEYPOINTS), 3))
        world = image.copy()
        for i, name in enumerate(names):
            if name in INDEX:
                x, y, z = data["joints_m"][::2, i].T
                image[:, 0, INDEX[name], :2] = data["joints_px"][::2, i]
                across, away = x * np.cos(yaw) + y * np.sin(yaw), y * np.cos(yaw) - x * np.sin(yaw)
                world[:, 0, INDEX[name]] = np.stack([across, -z, away], axis=-1)
        seen = np.full(image.shape[:3], 0.95)
        people = Landmarks(np.arange(len(image)), data["time_s"][::2], image, world, seen, seen.copy())
    clip = Clip("set.mp4", float(people.time_s[-1]), len(image), 30.0, truth["width"], truth["height"], 0)  # type: ignore[arg-type]
    return _track(people, clip)
