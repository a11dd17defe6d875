"""A set that is filmed from the hand is told like one that is filmed from a stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shared.domain import Landmarks
from tests.people import landmarks, seated
from tests.stick_sets import judge_landmarks, knee_motion
from vision.seeing.camera import CameraPath

KNEE = knee_motion(8, lift_s=2.0, lower_s=3.0)
STILL = landmarks(seated(KNEE, pitch_deg=-8.0))
TRUNK = 200.0


def _held(size: float) -> tuple[Landmarks, CameraPath]:
    """The same set through a camera that wanders by so many px, turning a little."""
    t = STILL.time_s
    turn, move = 0.01 * np.sin(0.7 * t), size * np.column_stack([np.sin(0.9 * t), np.cos(1.7 * t)])
    turned = np.stack([np.cos(turn), -np.sin(turn), np.sin(turn), np.cos(turn)], axis=-1).reshape(-1, 2, 2)
    image = STILL.image_px.copy()
    image[..., :2] = np.einsum("tij,tpkj->tpki", turned, image[..., :2]) + move[:, None, None]
    back = turned.transpose(0, 2, 1)
    path = CameraPath(t, np.concatenate([back, -back @ move[..., None]], axis=2))
    return replace(STILL, image_px=image), path


def _told(people: Landmarks, camera: CameraPath | None = None) -> tuple:
    analysis = judge_landmarks(people, "leg-extension", camera=camera)
    flags = {(f.check, f.rep) for f in analysis.report.findings if f.verdict == "flag"}
    return analysis.report.count, analysis.report.quality.usable, flags


def test_who_wanders_with_the_phone_changes_nothing() -> None:
    held, camera = _held(0.3 * TRUNK)
    assert _told(held, camera) == _told(STILL)
    assert _told(held) != _told(STILL), "the test's camera wanders too little to matter"


def test_hips_on_the_seat_stay_there_while_the_phone_wanders() -> None:
    held, camera = _held(0.1 * TRUNK)
    alone, steadied = (
        judge_landmarks(held, "leg-extension", camera=one).signals["hips"].values for one in (None, camera)
    )
    assert np.nanmax(np.abs(alone)) > 0.05
    assert np.nanmax(np.abs(steadied)) < 0.01


def test_while_nobody_knows_how_the_phone_moved_no_hips_slide() -> None:
    held, camera = _held(0.3 * TRUNK)
    known = (camera.time_s < 15.0) | (camera.time_s > 27.0)
    flags = _told(held, CameraPath(camera.time_s[known], camera.to_still[known]))[2]
    assert not flags - _told(STILL)[2]
