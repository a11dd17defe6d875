"""Who is looked for, when, and how often: a scripted landmark model in place of the real one."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

import vision.seeing.landmarker as landmarker
from shared.domain import Floats, Frame
from shared.keypoints import MIRRORED
from tests.people import seated
from vision.common.poses import off_bones
from vision.seeing.pose_mediapipe import OTHERS_STEP_S, STILL_TRUNKS, MediaPipePose

KNEE = np.array([100.0])
LIFTER = seated(KNEE)[0]
TRUNK = 200.0
STEP_S = 0.2


def standing(x: float) -> Floats:
    """Somebody upright at x px: the lifter's points stretched upward."""
    pose = LIFTER.copy()
    pose[:, 1] = 640.0 + 1.9 * (pose[:, 1] - 640.0)
    pose[:, 0] = x + 0.4 * (pose[:, 0] - 300.0)
    return pose


def scaled(pose: Floats, share: float, about: Floats) -> Floats:
    """The pose shrunk about a point."""
    return about + share * (pose - about)


class Script:
    """Stands in for the model: the first landmarker sees the lifter, the second whom ``other`` says.

    moves: px that the lifter goes from look to look.
    """

    def __init__(self, other: dict[int, Floats] | Floats | None = None, moves: float = 0.0):
        self.other, self.moves = other, moves
        self.started = 0
        self.looks: list[tuple[int, int]] = []

    @contextlib.contextmanager
    def landmarker(self, model: object) -> Iterator[tuple[int, None]]:
        self.started += 1
        yield self.started - 1, None

    def look(self, which: int, module: Any, image: Any, at_ms: int) -> list[Floats]:
        self.looks.append((which, at_ms))
        if which > 1:
            return []
        other = self.other.get(at_ms) if isinstance(self.other, dict) else self.other
        lifter = LIFTER + np.array([self.moves * at_ms / 1000 / STEP_S, 0.0, 0.0])
        found = lifter if which == 0 else other
        return [] if found is None else [np.column_stack([found, found, np.ones((33, 2))])]

    def times_of(self, which: int) -> list[int]:
        return [at for one, at in self.looks if one == which]


def surveyed(monkeypatch: pytest.MonkeyPatch, script: Script, seconds: float = 4.0):
    monkeypatch.setattr(landmarker, "_landmarker", script.landmarker)
    monkeypatch.setattr(landmarker, "_look", script.look)
    grey = np.full((1280, 720, 3), 90, np.uint8)
    frames = [Frame(6 * i, i * STEP_S, grey) for i in range(round(seconds / STEP_S) + 1)]
    return MediaPipePose().survey(iter(frames), 3)


def people(found) -> list[int]:
    return np.count_nonzero(~np.isnan(found.image_px[:, :, 0, 0]), axis=1).tolist()


def test_others_are_looked_for_now_and_then_while_one_is_alone(monkeypatch):
    script = Script()
    surveyed(monkeypatch, script)
    assert np.allclose(np.diff(script.times_of(1)), 1000 * OTHERS_STEP_S)
    assert script.started == 2


@pytest.mark.parametrize(("moves", "steps"), [(0.5 * STILL_TRUNKS, 2), (2 * STILL_TRUNKS, 1)])
def test_who_keeps_still_is_looked_for_in_every_other_picture(monkeypatch, moves, steps):
    script = Script(moves=moves * TRUNK / steps)
    found = surveyed(monkeypatch, script)
    assert np.allclose(np.diff(found.time_s[found.time_s > 0.7]), steps * STEP_S)


def test_who_was_found_is_looked_for_in_every_picture_until_gone(monkeypatch):
    came, left = 1600, 2800
    script = Script({at: standing(560.0) for at in range(came, left + 1, 200)})
    found = surveyed(monkeypatch, script)
    inside = (found.time_s >= came / 1000 - 0.01) & (found.time_s <= left / 1000 + 0.01)
    assert people(found) == [2 if now else 1 for now in inside]
    assert script.times_of(1) == [0, 800, *range(came, left + 1, 200), left + 200, left + 1000]


@pytest.mark.parametrize("share", [0.3, 0.5, 0.9])
def test_what_is_left_of_a_painted_body_is_nobody_else(monkeypatch, share):
    ghost = scaled(LIFTER, share, LIFTER[25])
    ghost = np.roll(ghost, 3, axis=0)  # points on the bones, but not where they belong
    assert set(people(surveyed(monkeypatch, Script(ghost)))) == {1}


def test_what_is_left_of_a_painted_body_hides_nobody_else(monkeypatch):
    """A landmarker keeps to what it found first: what is left of a bystander, or who sits beyond them."""
    first, beyond, script = standing(300.0), LIFTER + np.array([250.0, 0.0, 0.0]), Script()
    first[25:, 1] += 300.0  # knees and feet under the hips, not before them
    ghost = first + np.array([45.0, 0.0, 0.0])
    middle = ghost[[11, 12, 23, 24], :2].mean(axis=0)
    x, y = round(middle[0]) + 85, round(middle[1])  # on the ghost's trunk alone
    keeps: dict[int, Floats] = {0: first}

    def look(which: int, module: Any, image: Any, at_ms: int) -> list[Floats]:
        keeps.setdefault(which, ghost if image[y, x, 0] == 90 else beyond)
        return [] if which > 2 else [np.column_stack([keeps[which], keeps[which], np.ones((33, 2))])]

    script.look = look  # type: ignore[method-assign]
    assert set(people(surveyed(monkeypatch, script))) == {2}
    assert keeps[1] is ghost


@pytest.mark.parametrize(("sits", "started"), [(True, 2), (False, 4)])
@pytest.mark.parametrize("turned", [False, True])
def test_a_ghost_is_looked_past_every_four_seconds_while_nobody_sits(monkeypatch, sits, started, turned):
    first, script = standing(300.0), Script()
    if sits:
        first = LIFTER
    else:
        first[25:, 1] += 300.0
    ghost = on_its_head(first) if turned and not sits else first + np.array([45.0, 0.0, 0.0])
    both = [np.column_stack([pose, pose, np.ones((33, 2))]) for pose in (first, ghost)]
    script.look = lambda which, *given: [both[min(which, 1)].copy()]  # type: ignore[method-assign]
    assert set(people(surveyed(monkeypatch, script, seconds=7.0))) == {1}
    assert script.started == started


@pytest.mark.parametrize("beside", [0.0, 60.0, 250.0])
def test_a_trainer_who_stands_behind_is_somebody(monkeypatch, beside):
    assert set(people(surveyed(monkeypatch, Script(standing(300.0 + beside))))) == {2}


def test_distance_from_the_bones_is_in_trunk_lengths():
    hip, knee = LIFTER[24, :2], LIFTER[26, :2]
    along = hip + 0.3 * (knee - hip)
    below = along + np.array([0.0, 0.25 * TRUNK])
    off = off_bones(np.stack([along, below]), LIFTER[:, :2])
    assert off == pytest.approx([0.0, 0.25], abs=0.03)


def on_its_head(pose: Floats) -> Floats:
    """The pose turned over about its knees, as a model finds it in somebody's legs."""
    turned = pose.copy()
    turned[:, 1] = 2 * pose[25, 1] - pose[:, 1]
    return turned


def test_a_model_that_finds_a_body_in_the_legs_is_started_anew(monkeypatch):
    """The first landmarker goes wrong in mid-clip and would stay so; a new one sees the person at once."""

    def look(which: int, module: Any, image: Any, at_ms: int) -> list[Floats]:
        found = on_its_head(LIFTER) if which == 0 and at_ms >= 1000 else LIFTER
        return [np.column_stack([found, found, np.ones((33, 2))])]

    script = Script()
    monkeypatch.setattr(landmarker, "_landmarker", script.landmarker)
    monkeypatch.setattr(landmarker, "_look", look)
    frames = [Frame(i, i * STEP_S, np.full((1280, 720, 3), 90, np.uint8)) for i in range(15)]
    found = MediaPipePose().follow(iter(frames), (0, 0, 720, 1280))
    assert np.allclose(found.image_px[:, 0], LIFTER)
    assert script.started == 2


@pytest.mark.parametrize("wrongly", [[], [on_its_head(LIFTER)]], ids=["nobody", "upside down"])
def test_who_is_not_found_in_a_part_of_the_picture_is_looked_for_smaller(monkeypatch, wrongly):
    def look(which: int, module: Any, image: Any, at_ms: int) -> list[Floats]:
        found = [LIFTER] if image.shape[1] == 720 else wrongly
        return [np.column_stack([pose, pose, np.ones((33, 2))]) for pose in found]

    monkeypatch.setattr(landmarker, "_landmarker", Script().landmarker)
    monkeypatch.setattr(landmarker, "_look", look)
    frames = [Frame(i, i * STEP_S, np.full((1280, 720, 3), 90, np.uint8)) for i in range(15)]
    found = MediaPipePose().follow(iter(frames), (100, 200, 700, 1000))
    assert np.allclose(found.image_px[1:, 0], LIFTER)


def test_who_is_found_upside_down_again_is_not_looked_for_anew_in_every_picture(monkeypatch):
    script = Script(other=None)
    monkeypatch.setattr(landmarker, "_landmarker", script.landmarker)
    turned = np.column_stack([on_its_head(LIFTER), LIFTER, np.ones((33, 2))])
    monkeypatch.setattr(landmarker, "_look", lambda *given: [turned])
    frames = [Frame(i, i * STEP_S, np.full((1280, 720, 3), 90, np.uint8)) for i in range(15)]
    MediaPipePose().follow(iter(frames), (0, 0, 720, 1280))
    assert script.started == 1 + 3, "once a second"


def test_a_body_on_its_head_beside_somebody_is_nobody(monkeypatch):
    """Every landmarker but the first finds it, also one that was started anew."""
    script = Script()
    both = [np.column_stack([p, p, np.ones((33, 2))]) for p in (LIFTER, on_its_head(standing(560.0)))]
    script.look = lambda which, *given: [both[min(which, 1)].copy()]  # type: ignore[method-assign]
    assert set(people(surveyed(monkeypatch, script))) == {1}


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_mirrored_look_comes_back_as_the_person_lies_in_the_clip(monkeypatch, mirrored: bool):
    """The model is shown the mirror image, finds the mirrored person, and the sides are put right again."""
    left, top, right, _ = box = (100, 200, 700, 1000)

    def look(landmarker: Any, module: Any, image: Any, at_ms: int) -> list[Floats]:
        pose = LIFTER - np.array([left, top, 0.0])
        if mirrored:
            pose = pose[list(MIRRORED)]
            pose[:, 0] = right - left - 1 - pose[:, 0]
        return [np.column_stack([pose, 0.01 * pose, np.full((33, 2), 0.9)])]

    monkeypatch.setattr(landmarker, "_landmarker", Script().landmarker)
    monkeypatch.setattr(landmarker, "_look", look)
    frame = Frame(0, 0.0, np.full((1280, 720, 3), 90, np.uint8))
    found = MediaPipePose().follow(iter([frame]), box, mirrored)
    assert np.allclose(found.image_px[0, 0], LIFTER)
