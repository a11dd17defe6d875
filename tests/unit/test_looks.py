"""Recorded looks: what is kept comes back, and what no longer fits says so."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sample_clips import look_key, looks
from shared.domain import Clip, Landmarks
from tests.samples import LOOKS, NAMES, clip_of
from vision.seeing.camera import CameraPath
from vision.seeing.flow import POINTS, LimbFlow
from vision.seeing.look import Seen
from vision.seeing.pose_mediapipe import MediaPipePose

SOURCE = '"""Words."""\nimport os\n\n\ndef f(x):\n    """More."""\n    # why\n    return x + 1\n'


def landmarks(largest_px: float = 800.0) -> Landmarks:
    """Forty frames of two people; the second is missing at first."""
    rng = np.random.default_rng(5)
    image = rng.uniform(-0.5 * largest_px, largest_px, (40, 2, 33, 3))
    image[:7, 1] = np.nan
    shares = rng.uniform(0, 1, (40, 2, 33))
    frames = np.arange(0, 80, 2)
    return Landmarks(frames, frames / 25.0, image, rng.normal(0, 0.5, (40, 2, 33, 3)), shares, shares, "some")


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    """A file that stands for a clip of which a look was kept in ``tmp_path``."""
    path = tmp_path / "clip.mp4"
    path.write_bytes(b"pictures")
    seen = Seen(
        clip=Clip(path.name, 3.2, 80, 25.0, 480, 854, 0), luma=116.0, sharpness=0.3, survey=landmarks(),
        subject=None, dense=landmarks(), model="some", notes=("a note",),
    )  # fmt: skip
    pose = MediaPipePose()
    place = tmp_path / pose.name / path.stem
    looks.save_seen(seen, look_key.look_key(path, pose), place)
    looks.save_landmarks(landmarks(), place / "again.npz")
    return path


@pytest.mark.parametrize(("largest_px", "off_px"), [(800.0, 1 / 64), (3840.0, 0.1)])
def test_landmarks_come_back_within_half_a_step_and_what_is_missing_is_missing(
    tmp_path: Path, largest_px: float, off_px: float
) -> None:
    put = landmarks(largest_px)
    looks.save_landmarks(put, tmp_path / "l.npz")
    got = looks.load_landmarks(tmp_path / "l.npz")
    assert got.model == put.model and (got.frame == put.frame).all() and (got.time_s == put.time_s).all()
    off = np.abs(got.image_px - put.image_px)
    assert np.nanmax(off[..., :2]) <= off_px
    assert (np.isnan(got.image_px) == np.isnan(put.image_px)).all()
    assert np.abs(got.world_m - put.world_m).max() <= 0.00025
    assert np.abs(got.visibility - put.visibility).max() <= 1 / 512


def test_a_look_that_fits_is_read_back_with_its_facts(clip: Path) -> None:
    pose = MediaPipePose()
    assert looks.why_stale(clip, pose, clip.parent) == ""
    seen = looks.recorded(clip, pose, clip.parent)
    assert (seen.clip.file, seen.luma, seen.notes) == ("clip.mp4", 116.0, ("a note",))
    assert looks.recorded_again(clip, pose, clip.parent).model == "some"


def test_another_clip_other_code_and_another_model_are_told_in_a_sentence(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pose = MediaPipePose()
    clip.write_bytes(b"other pictures")
    assert looks.why_stale(clip, pose, tmp_path) == "The recorded look at clip.mp4 no longer fits the clip."
    clip.write_bytes(b"pictures")
    monkeypatch.setattr(look_key, "_code_digest", lambda: "other")
    assert looks.why_stale(clip, pose, tmp_path).endswith("no longer fits the code that sees.")
    monkeypatch.undo()
    (tmp_path / f"{pose.name}.task").write_bytes(b"another model")
    pose = MediaPipePose(tmp_path / f"{pose.name}.task")
    assert looks.why_stale(clip, pose, tmp_path).endswith("no longer fits the models.")
    assert (
        looks.why_stale(clip.with_name("new.mp4"), pose, tmp_path) == "No look at new.mp4 has been recorded."
    )


def test_a_look_that_no_longer_fits_is_looked_at_anew_both_ways(
    clip: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pose = MediaPipePose()
    old = looks.recorded(clip, pose, tmp_path)
    monkeypatch.setattr(looks, "open_clip", lambda path: path)
    camera = CameraPath(np.array([0.0, 0.2]), np.full((2, 2, 3), 0.5))
    flow = LimbFlow(np.array([0.0, 1 / 30]), np.full((2, len(POINTS), 2), 0.25))
    new = replace(old, luma=7.0, camera=camera)
    monkeypatch.setattr(looks, "look", lambda source, pose, limbs: replace(new, flow=flow if limbs else None))
    monkeypatch.setattr(
        looks, "look_again", lambda source, pose, seen: replace(landmarks(), model="mirrored")
    )
    assert looks.seen_cached(clip, pose, tmp_path).luma == 116.0
    clip.write_bytes(b"other pictures")
    seen = looks.seen_cached(clip, pose, tmp_path)
    assert seen.luma == 7.0 and seen.flow is not None
    assert np.array_equal(seen.flow.moved_px, flow.moved_px)
    assert seen.camera is not None and np.array_equal(seen.camera.to_still, camera.to_still)
    assert looks.seen_again_cached(clip, pose, tmp_path, seen).model == "mirrored"
    assert looks.why_stale(clip, pose, tmp_path) == ""


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("More.", "Other words.", True),
        ("import os", "from os import path", True),
        ("# why", "# because", True),
        ("\n\n\n", "\n", True),
        ("x + 1", "x + 2", False),
    ],
)
def test_only_what_runs_decides_whether_code_has_changed(old: str, new: str, same: bool) -> None:
    assert (look_key.essence(SOURCE) == look_key.essence(SOURCE.replace(old, new))) is same


def test_line_ends_of_another_machine_change_nothing(tmp_path: Path) -> None:
    (tmp_path / "a.py").write_bytes(SOURCE.replace("\n", "\r\n").encode())
    assert look_key.essence((tmp_path / "a.py").read_text(encoding="utf-8")) == look_key.essence(SOURCE)


def test_all_that_sees_counts_and_nothing_that_judges() -> None:
    names = {path.stem for path in look_key.seeing_modules()}
    assert {"clip", "container", "follow", "light", "look", "paint", "poses", "subject", "keypoints"} <= names
    assert not names & {"mark_tracker", "pipeline", "track", "quality", "report"}


def test_every_sample_clip_has_a_recorded_look_that_fits() -> None:
    pose = MediaPipePose()
    stale = [why for name in NAMES if (why := looks.why_stale(clip_of(name), pose, LOOKS))]
    assert not stale, "look anew: make looks"
    assert {path.name for path in (LOOKS / pose.name).iterdir()} == set(NAMES)
