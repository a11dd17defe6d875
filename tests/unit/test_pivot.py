"""The machine's axis beside the knee's: a pinhole camera with exact places gives the offset back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Clip, Track, View
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from tests.people import landmarks, seated
from tests.synthetic import RepTruth, SetTruth
from vision.common.pinhole import Tilt, focal_px
from vision.judging.bind import bind
from vision.judging.checks.marks import _where
from vision.measuring.machine.pivot import find_pivot, in_thigh_plane
from vision.measuring.reps.find_reps import find_reps
from vision.measuring.signals.signal import compute_signals
from vision.measuring.track.build import build_track
from vision.seeing.marks import MarkPath, MarkPoint

EXERCISE = find_exercise("leg-extension")
#: cm of the knee from the camera, and of the thigh.
FAR_CM, THIGH_CM = 300.0, 42.0


def a_track(facing: int = 1, picture: tuple[int, int] = (720, 1280)) -> Track:
    """A track of which only picture, scale and facing matter."""
    shape = (4, 33)
    blank = Track(
        np.arange(4) / 30, 30.0, np.full((*shape, 2), np.nan), np.full((*shape, 3), np.nan),
        np.full(shape, np.nan), np.zeros(33), "left", facing, View("side-left", 0.0, 90.0), 200.0, picture,
    )  # fmt: skip
    return replace(blank, cm_per_px=FAR_CM / focal_px(blank.picture))


def seen_from(
    track: Track, turn_deg: float, points_cm: dict[str, np.ndarray], down_deg: float = 0.0
) -> dict[str, np.ndarray]:
    """Pixels (1, 2) of places in cm: forward, up and towards the camera's side, from the knee."""
    turn = np.radians(turn_deg)
    ahead = np.array([track.facing * np.cos(turn), 0.0, -np.sin(turn)])
    side = np.array([-track.facing * np.sin(turn), 0.0, -np.cos(turn)])
    knee = np.array([12.0, 25.0, FAR_CM])
    focal, out = focal_px(track.picture), {}
    for name, (forward, up, near) in points_cm.items():
        at = knee + forward * ahead + near * side + np.array([0.0, -up, 0.0])
        at = Tilt(-down_deg, 0.0).level(at[None])[0]
        out[name] = np.array([at[:2] / at[2] * focal + np.array(track.picture) / 2])
    return out


@pytest.mark.parametrize("facing", [1, -1])
@pytest.mark.parametrize("turn_deg", [0.0, 12.0, -12.0, 28.0])
@pytest.mark.parametrize("depth_cm", [0.0, 15.0, -20.0])
def test_a_known_offset_comes_back_from_any_side(facing: int, turn_deg: float, depth_cm: float):
    track, slope = a_track(facing), np.radians(10.0)
    thigh = np.array([np.cos(slope), np.sin(slope), 0.0])
    above = np.array([-np.sin(slope), np.cos(slope), 0.0])
    places = {
        "knee": np.zeros(3),
        "hip": -THIGH_CM * thigh,
        "pivot": 4.5 * thigh - 2.0 * above + np.array([0.0, 0.0, depth_cm]),
    }
    px = seen_from(track, turn_deg, places)
    offset = in_thigh_plane(px["pivot"], px["knee"], px["hip"], track, turn_deg, depth_cm)
    assert offset[0] == pytest.approx([4.5, -2.0], abs=1e-6)


def test_a_tilted_camera_is_levelled():
    track = a_track()
    places = {"knee": np.zeros(3), "hip": np.array([-THIGH_CM, 0, 0]), "pivot": np.array([2.0, 3.0, 15.0])}
    px = seen_from(track, 8.0, places, down_deg=9.0)
    args = (px["pivot"], px["knee"], px["hip"], track, 8.0, 15.0)
    assert in_thigh_plane(*args, Tilt(9.0, 0.0))[0] == pytest.approx([2.0, 3.0], abs=0.15)
    assert in_thigh_plane(*args)[0][1] < 1.5, "without it the pivot seems lower"


def test_without_the_correction_the_offset_would_be_centimetres_off():
    track = a_track()
    places = {"knee": np.zeros(3), "hip": np.array([-THIGH_CM, 0, 0]), "pivot": np.array([0, 0, 15.0])}
    px = seen_from(track, 12.0, places)
    plain = in_thigh_plane(px["pivot"], px["knee"], px["hip"], track, 12.0, 0.0)
    assert np.linalg.norm(plain[0]) > 3.0


def a_set(knee_off_px: tuple[float, float] = (0.0, 0.0)):
    """Track, drive and repetitions of a stick person whose knee landmark is off by some px."""
    truth = SetTruth((RepTruth(),) * 6)
    points = seated(truth.drive(np.arange(0.0, truth.duration_s, 1 / 30)))
    for side in ("left", "right"):
        points[:, INDEX[f"{side}_knee"], :2] += knee_off_px
    clip = Clip("clip.mp4", truth.duration_s, len(points), 30.0, 720, 1280, 0)
    track = build_track(landmarks(points), clip, EXERCISE.limbs, height_cm=170.0)
    assert track is not None
    drive = compute_signals(track, bind(EXERCISE).signals, EXERCISE, keep_raw=True)["knee"]
    reps = find_reps(drive, "rising")
    assert reps is not None
    return track, drive, reps


def mark(track: Track, name: str, x: float, y: float, t: float) -> MarkPath:
    places = np.tile([x, y], (len(track.time_s), 1)).astype(float)
    return MarkPath(MarkPoint(name, x, y, t), track.time_s, places, places, np.ones(len(places)))


def test_the_offset_of_a_set_is_its_median_with_a_moment_to_look_at():
    track, drive, reps = a_set()
    x, y = np.nanmedian(track.xy(f"{track.near}_knee"), axis=0)
    found = find_pivot(mark(track, "pivot", x + 30, y - 12, 1.0), None, track, drive, reps, 0.0)
    assert found is not None and found.unit == "cm" and not found.knee_marked
    cm = track.cm_per_px or 0.0
    assert found.along_median == pytest.approx(30 * cm, rel=0.05)
    assert found.across_median == pytest.approx(12 * cm, rel=0.05)
    assert found.distance == pytest.approx(np.hypot(30, 12) * cm, rel=0.05)
    assert reps.start_s <= found.time_s <= reps.end_s
    assert "beyond the knee" in _where(found) and "above the thigh" in _where(found)
    assert "marking the knee too" in _where(found)


def slipped(track: Track, *places: tuple[float, float]) -> tuple[Track, list[tuple[float, float]]]:
    """The track of a phone that has rolled and slid, and where places of the room lie in its pictures."""
    turn = np.radians(8.0)
    one = np.array([[np.cos(turn), -np.sin(turn), 60.0], [np.sin(turn), np.cos(turn), -25.0]])
    rows = len(track.time_s)
    moved = replace(track, to_picture=np.tile(one, (rows, 1, 1)), placed=np.ones(rows, dtype=bool))
    return moved, [(float(x), float(y)) for x, y in np.array(places) @ one[:, :2].T + one[:, 2]]


def test_a_pivot_marked_in_the_picture_is_held_against_the_body_there_though_the_phone_has_slipped():
    track, drive, reps = a_set()
    x, y = np.nanmedian(track.xy(f"{track.near}_knee"), axis=0)
    moved, [place] = slipped(track, (x + 30, y - 12))
    found = find_pivot(mark(moved, "pivot", *place, 1.0), None, moved, drive, reps, 0.0)
    cm = track.cm_per_px or 0.0
    assert found is not None and found.along_median == pytest.approx(30 * cm, rel=0.1)
    assert found.across_median == pytest.approx(12 * cm, rel=0.1)


def test_a_marked_knee_takes_the_place_of_a_landmark_that_is_off():
    track, drive, reps = a_set(knee_off_px=(14.0, -9.0))
    true = np.nanmedian(track.xy(f"{track.near}_knee"), axis=0) - (14.0, -9.0)
    at_s = reps.full[0].start_s
    pivot = mark(track, "pivot", true[0], true[1], at_s)
    by_landmark = find_pivot(pivot, None, track, drive, reps, 0.0)
    by_mark = find_pivot(pivot, mark(track, "knee", true[0], true[1], at_s), track, drive, reps, 0.0)
    assert by_landmark is not None and by_mark is not None
    assert by_landmark.distance > 2.0 and by_mark.distance < 0.3
    assert by_mark.half < 0.7 * by_landmark.half and by_mark.knee_marked


def test_what_depth_and_turn_leave_open_joins_the_uncertainty():
    track, drive, reps = a_set()
    pivot = mark(track, "pivot", 500.0, 640.0, 1.0)
    knee = mark(track, "knee", 470.0, 640.0, 1.0)
    halves = [find_pivot(pivot, knee, track, drive, reps, d).half for d in (0.0, 15.0, 40.0)]  # type: ignore[union-attr]
    assert halves[0] < halves[1] < halves[2]


def test_a_pivot_that_is_never_seen_or_a_front_view_gives_nothing():
    track, drive, reps = a_set()
    gone = mark(track, "pivot", 500.0, 640.0, 1.0)
    gone = replace(gone, xy_px=np.full_like(gone.xy_px, np.nan), steady_px=gone.steady_px * np.nan)
    assert find_pivot(gone, None, track, drive, reps, 15.0) is None
    front = replace(track, facing=0)
    assert find_pivot(mark(track, "pivot", 500.0, 640.0, 1.0), None, front, drive, reps, 15.0) is None
