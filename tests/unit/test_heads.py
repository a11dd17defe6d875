"""A head is hidden whoever it belongs to; of the subject, and of nobody else, the body is shown."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared.domain import Landmarks
from shared.keypoints import HEAD, INDEX, KEYPOINTS
from tests.samples import CLIPS, checked, clip_of
from vision.seeing.clip import open_clip
from vision.telling import heads
from vision.telling.faces import _cascades, faces
from vision.telling.heads import HeadHider, everyone

SIZE = (640, 480)
PX_PER_M = 200.0
#: An upright person, metres from the mid-hip, x right, y down.
PERSON = {
    "nose": (0.06, -0.72), "mouth": (0.05, -0.68), "ear": (0.0, -0.74), "eye": (0.05, -0.75),
    "shoulder": (0.17, -0.50), "elbow": (0.25, -0.22), "wrist": (0.28, 0.04), "pinky": (0.29, 0.12),
    "index": (0.29, 0.13), "thumb": (0.27, 0.10), "hip": (0.10, 0.0), "knee": (0.10, 0.42),
    "ankle": (0.10, 0.84), "heel": (0.10, 0.88), "foot_index": (0.16, 0.90),
}  # fmt: skip
SCENE = np.random.default_rng(3).integers(0, 256, (SIZE[1], SIZE[0], 3), dtype=np.uint8)


def person(x: float, y: float, scale: float = PX_PER_M) -> np.ndarray:
    """Points (33, 3) px of someone whose mid-hip stands at x, y."""
    points = np.zeros((33, 3))
    for i, name in enumerate(KEYPOINTS):
        part = next(p for p in sorted(PERSON, key=len, reverse=True) if p in name)
        dx, dy = PERSON[part]
        on_right = name.startswith("right") and name not in HEAD
        points[i] = (x + scale * (-dx if on_right else dx), y + scale * dy, 0)
    return points


def landmarks(rows: list[list[np.ndarray | None]], times: list[float]) -> Landmarks:
    people = max(len(row) for row in rows)
    image = np.full((len(rows), people, 33, 3), np.nan)
    for i, row in enumerate(rows):
        for j, points in enumerate(row):
            if points is not None:
                image[i, j] = points
    weights = np.where(np.isnan(image[..., 0]), np.nan, 1.0)
    return Landmarks(np.arange(len(rows)), np.array(times), image, image.copy(), weights, weights.copy())


def head_circle(x: float, y: float, scale: float = PX_PER_M) -> np.ndarray:
    """The true head of ``person`` as a mask (H, W): 0.12 m about 0.73 m above the hips."""
    mask = np.zeros((SIZE[1], SIZE[0]), np.uint8)
    cv2.circle(mask, (round(x + 0.01 * scale), round(y - 0.73 * scale)), round(0.12 * scale), 1, -1)
    return mask > 0


def shown_share(hider: HeadHider, time_s: float, head: np.ndarray) -> float:
    """Share of a head's pixels that are left as they were."""
    out = hider.apply(SCENE, time_s)
    return float((out == SCENE).all(axis=2)[head].mean())


def one(times: list[float], at: tuple[float, float] = (300, 300)) -> Landmarks:
    return landmarks([[person(*at)] for _ in times], times)


STEADY = [0.2 * i for i in range(11)]


def test_the_subjects_head_is_hidden_and_the_limbs_are_shown() -> None:
    subject = one(STEADY)
    hider = HeadHider(subject, subject, SIZE)
    out = hider.apply(SCENE, 1.03)
    same = (out == SCENE).all(axis=2)
    assert shown_share(hider, 1.03, head_circle(300, 300)) == 0
    for name in ("left_elbow", "left_wrist", "right_knee", "left_ankle", "right_foot_index", "left_hip"):
        x, y = person(300, 300)[INDEX[name], :2].astype(int)
        assert same[y - 3 : y + 4, x - 3 : x + 4].all(), name


def test_everything_but_the_body_is_blurred_past_recognition() -> None:
    subject = one(STEADY)
    out = HeadHider(subject, subject, SIZE).apply(SCENE, 1.0)
    far = out[:, 500:].astype(float)
    assert (out[:, 500:] == SCENE[:, 500:]).all(axis=2).mean() < 0.01
    assert far.std() < 0.2 * SCENE[:, 500:].std(), "fine detail is gone"


MACHINE = (slice(100, 470), slice(200, 520))


def test_in_a_still_pads_lever_and_stack_stay_sharp_and_only_heads_are_hidden() -> None:
    people = landmarks([[person(300, 300), person(430, 330)] for _ in STEADY], STEADY)
    out = HeadHider(people, one(STEADY), SIZE).apply(SCENE, 1.0, MACHINE)
    same = (out == SCENE).all(axis=2)
    heads = cv2.dilate((head_circle(300, 300) | head_circle(430, 330)).astype(np.uint8), np.ones((90, 90)))
    assert same[MACHINE][heads[MACHINE] == 0].all()
    assert not same[head_circle(300, 300)].any() and not same[head_circle(430, 330)].any()
    assert same[:, 525:].mean() < 0.01, "beyond the machine the room is blurred"


def test_where_the_subject_is_not_known_the_machine_is_blurred_too() -> None:
    nobody = landmarks([[None] for _ in STEADY], STEADY)
    assert (HeadHider(nobody, nobody, SIZE).apply(SCENE, 1.0, MACHINE) == SCENE).all(axis=2).mean() < 0.01


def test_a_face_that_no_look_found_is_hidden_beside_the_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(heads, "faces", lambda image, part: [(470.0, 300.0, 30.0)])
    out = HeadHider(one(STEADY), one(STEADY), SIZE).apply(SCENE, 1.0, MACHINE)
    assert not (out == SCENE).all(axis=2)[280:320, 450:490].any()


def test_what_finds_faces_comes_with_the_package_and_finds_none_in_noise() -> None:
    assert not any(cascade.empty() for cascade in _cascades())
    assert faces(SCENE, MACHINE) == []


def test_a_picture_is_copied_and_may_be_scaled() -> None:
    subject = one(STEADY)
    hider = HeadHider(subject, subject, SIZE)
    before = SCENE.copy()
    hider.apply(SCENE, 1.0)
    assert np.array_equal(before, SCENE)
    half = np.ascontiguousarray(SCENE[::2, ::2])
    out = hider.apply(half, 1.0)
    assert out.shape == half.shape
    assert not (out == half).all(axis=2)[head_circle(300, 300)[::2, ::2]].any()


@pytest.mark.parametrize(("x", "y"), [(340, 400), (260, 430), (300, 360)])
def test_a_bystanders_head_in_front_of_the_body_is_hidden(x: float, y: float) -> None:
    subject = one(STEADY)
    people = landmarks([[person(300, 300), person(x, y)] for _ in STEADY], STEADY)
    hider = HeadHider(people, subject, SIZE)
    body, _ = HeadHider(subject, subject, SIZE).masks(SIZE, 1.1)
    assert (body[head_circle(x, y)] > 0).any(), "without it the head would show in this place"
    assert shown_share(hider, 1.1, head_circle(x, y)) == 0


def test_a_bystander_nobody_found_is_blurred() -> None:
    subject = one(STEADY)
    assert shown_share(HeadHider(subject, subject, SIZE), 1.1, head_circle(540, 300)) < 0.01


def test_a_walker_is_hidden_between_two_looks() -> None:
    """1.5 m/s, looked at five times a second, across the subject's legs."""
    xs = [150 + 1.5 * PX_PER_M * t for t in STEADY]
    people = landmarks([[person(300, 300), person(x, 430)] for x in xs], STEADY)
    hider = HeadHider(people, one(STEADY), SIZE)
    for t in np.arange(0.0, 1.6, 0.033):
        assert shown_share(hider, t, head_circle(150 + 1.5 * PX_PER_M * t, 430)) == 0, t


def test_slots_may_change_owner_from_frame_to_frame() -> None:
    rows = [[person(300, 300), person(340, 400)][:: 1 if i % 2 else -1] for i in range(len(STEADY))]
    hider = HeadHider(landmarks(rows, STEADY), one(STEADY), SIZE)
    for t in (0.0, 0.33, 1.0, 1.9):
        assert shown_share(hider, t, head_circle(340, 400)) == 0


def test_a_standing_head_stays_hidden_while_it_is_missed() -> None:
    rows: list[list[np.ndarray | None]] = [
        [person(300, 300), None if 0.5 < t < 1.7 else person(340, 400)] for t in STEADY
    ]
    hider = HeadHider(landmarks(rows, STEADY), one(STEADY), SIZE)
    assert shown_share(hider, 1.1, head_circle(340, 400)) == 0


def test_a_head_seen_once_stays_hidden_for_a_while() -> None:
    rows: list[list[np.ndarray | None]] = [
        [person(300, 300), person(340, 400) if i == 5 else None] for i in range(11)
    ]
    hider = HeadHider(landmarks(rows, STEADY), one(STEADY), SIZE)
    for time_s in (0.75, 1.0, 1.25):
        assert shown_share(hider, time_s, head_circle(340, 400)) == 0
    assert shown_share(hider, 1.6, head_circle(340, 400)) > 0.5, "the body shows again"


def test_a_walker_missed_on_the_way_stays_hidden() -> None:
    """Found beside the machine, missed while crossing the legs, found on the other side."""
    xs = [150 + 1.0 * PX_PER_M * t for t in STEADY]
    rows: list[list[np.ndarray | None]] = [
        [person(300, 300), None if 0.5 < t < 1.5 else person(x, 430)] for t, x in zip(STEADY, xs, strict=True)
    ]
    hider = HeadHider(landmarks(rows, STEADY), one(STEADY), SIZE)
    for t in np.arange(0.0, 2.0, 0.033):
        assert shown_share(hider, t, head_circle(150 + 1.0 * PX_PER_M * t, 430)) == 0, t


def test_head_points_gone_astray_are_mended_by_the_shoulders() -> None:
    astray = person(300, 300)
    astray[[INDEX[name] for name in HEAD], :2] += (0, 110)
    subject = landmarks([[astray] for _ in STEADY], STEADY)
    assert shown_share(HeadHider(subject, subject, SIZE), 1.0, head_circle(300, 300)) == 0


@pytest.mark.parametrize("time_s", [-1.0, 0.9, 3.5])
def test_where_the_subject_is_not_known_nothing_is_shown(time_s: float) -> None:
    times = [0.0, 0.2, 0.4, 1.4, 1.6]
    hider = HeadHider(one(times), one(times), SIZE)
    body, _ = hider.masks(SIZE, time_s)
    assert not body.any()
    assert (hider.apply(SCENE, time_s) == SCENE).all(axis=2).mean() < 0.01


def test_a_clip_without_anyone_is_blurred_as_a_whole() -> None:
    nobody = landmarks([[None] for _ in STEADY], STEADY)
    assert (HeadHider(nobody, nobody, SIZE).apply(SCENE, 1.0) == SCENE).all(axis=2).mean() < 0.01


@settings(max_examples=40, deadline=None)
@given(
    x=st.floats(-200, 900), y=st.floats(-200, 900), scale=st.floats(20, 600), time_s=st.floats(0, 2)
)  # fmt: skip
def test_no_place_or_size_leaves_a_head(x: float, y: float, scale: float, time_s: float) -> None:
    subject = landmarks([[person(x, y, scale)] for _ in STEADY], STEADY)
    body, _ = HeadHider(subject, subject, SIZE).masks(SIZE, time_s)
    assert not (body > 0)[head_circle(x, y, scale)].any()


@pytest.mark.parametrize("name", ["leg-extension-clean", "leg-extension-faulty"])
def test_rendered_heads_are_hidden(name: str) -> None:
    """A rendered clip with a true circle for every head: none of a head is left.

    People other than the subject may show at most 1 % of their heads.
    """
    analysis = checked(name)[0]
    source = open_clip(clip_of(name))
    size = (source.clip.width, source.clip.height)
    hider = HeadHider(everyone(analysis.looks), analysis.subject, size)
    with np.load(CLIPS / f"{name}.truth.npz") as truth:
        times, heads = truth["time_s"], truth["heads_px"]
    shown = np.zeros((heads.shape[1], 2))
    for frame in source.frames(4.2, 8.8):
        same = (hider.apply(frame.image, frame.time_s) == frame.image).all(axis=2)
        body, _ = hider.masks(size, frame.time_s)
        for who, (x, y, r) in enumerate(heads[int(np.argmin(abs(times - frame.time_s)))].tolist()):
            if not np.isnan(x):
                circle = cv2.circle(np.zeros(size[::-1], np.uint8), (round(x), round(y)), round(r), 1, -1) > 0
                shown[who] += ((same & (body > 0))[circle].sum(), circle.sum())
    share = shown[:, 0] / np.maximum(shown[:, 1], 1)
    assert shown[0, 1] > 0
    assert share[0] == 0
    assert (share[1:] <= 0.01).all()
