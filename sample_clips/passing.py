"""People who do not train, for composed recordings: somebody walks through, a trainer adjusts the seat.

Head, trunk and arms are cut out of a rendered clip; the legs that walk are drawn.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from shared.domain import Frame
from shared.keypoints import INDEX
from vision.seeing.clip import open_clip
from vision.seeing.pose_mediapipe import MediaPipePose

#: Of a trunk length: thigh and shin, half of their width, and how far a step is.
THIGH, SHIN, THICK = 0.95, 0.9, 0.13
STEP_S = 1.1
SHORTS, SKIN, SHOE = (45, 48, 60), (150, 112, 90), (235, 235, 235)
#: A person differs by so much, in grey levels, from the room behind them.
UNLIKE = 22
#: How far forward who adjusts a seat bends, degrees, and how far and how often they pull.
BEND, PULL, PULL_S = 55.0, 9.0, 1.5
WALK_S = 3.0


@dataclass(frozen=True)
class Figure:
    """Head, trunk and arms, facing left: picture (H, W, 3), its share (H, W), the hips px, the trunk px."""

    image: np.ndarray
    share: np.ndarray
    hips: np.ndarray
    trunk: float


def figure_of(clip, room):
    """Who sits in a clip's first picture, from the hips up; room: gives that picture without them."""
    image = next(open_clip(clip).frames()).image
    points, trunk = body(image)
    hips = points[[INDEX["left_hip"], INDEX["right_hip"]]].mean(axis=0)
    unlike = np.abs(image.astype(int) - room(image)).max(axis=2) > UNLIKE
    near = cv2.fillConvexPoly(
        np.zeros(image.shape[:2], np.uint8), cv2.convexHull(points[:25].astype(np.int32)), 1
    )
    near = cv2.dilate(near, np.ones((round(0.4 * trunk),) * 2, np.uint8))
    share = cv2.morphologyEx((unlike & (near > 0)).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((9, 9)))
    share[round(hips[1] + 0.2 * trunk) :] = 0
    share &= (1 - _along(image, points, trunk, "hip", "knee", 0.25)) | _arms(image, points, trunk)
    count, parts, facts, _ = cv2.connectedComponentsWithStats(share)
    share = (parts == 1 + np.argmax(facts[1:, cv2.CC_STAT_AREA])) if count > 1 else share
    return Figure(image, cv2.GaussianBlur(share.astype(np.float32), (0, 0), 0.8), hips, trunk)


def _arms(image, points, trunk):
    upper, lower = (
        _along(image, points, trunk, *ends, 0.13) for ends in (("shoulder", "elbow"), ("elbow", "wrist"))
    )
    return upper | lower


def _along(image, points, trunk, start, end, half):
    """1 where a limb of either side lies, half of its width in trunk lengths."""
    cover = np.zeros(image.shape[:2], np.uint8)
    for side in ("left", "right"):
        ends = [tuple(int(v) for v in points[INDEX[f"{side}_{name}"]]) for name in (start, end)]
        cv2.line(cover, *ends, 1, round(2 * half * trunk))
    return cover


def body(image):
    """Points (33, 2) px of the one person in a picture, and their trunk, px."""
    seen = MediaPipePose().survey([Frame(0, 0.0, image)], 1)
    points = seen.image_px[0, 0, :, :2]
    hips = points[[INDEX["left_hip"], INDEX["right_hip"]]].mean(axis=0)
    shoulders = points[[INDEX["left_shoulder"], INDEX["right_shoulder"]]].mean(axis=0)
    return points, float(np.linalg.norm(hips - shoulders))


def walk_through(picture, figure, trunk, share):
    """Somebody in front of the picture, from right (share 0) to left (1); trunk: theirs in it, px."""
    width = picture.shape[1]
    x = width * 1.25 - 1.5 * width * share
    return _stand(picture, figure, x, trunk, phase=share * WALK_S / STEP_S)


def adjusting(picture, figure, trunk, time_s, whole_s):
    """A trainer at a moment (s): comes from the left, bends to the seat and pulls, stands up, goes."""
    there, away = 0.2 * picture.shape[1], -0.4 * picture.shape[1]
    come, go = min(1.0, time_s / WALK_S), min(1.0, max(0.0, whole_s - time_s) / WALK_S)
    walking = min(come, go)
    x = away + (there - away) * walking
    at_it = np.clip(min(time_s, whole_s - time_s) - WALK_S, 0.0, 1.0)
    pitch = at_it * (BEND + PULL * np.sin(2 * np.pi * time_s / PULL_S))
    phase = time_s / STEP_S if walking < 1 else 0.0
    leaves = go < 1
    if leaves:
        return _stand(picture, figure, x, trunk, phase)
    return _stand(picture[:, ::-1], figure, picture.shape[1] - x, trunk, phase, pitch)[:, ::-1]


def _stand(picture, figure, x, trunk, phase=0.0, pitch_deg=0.0):
    """A copy of the picture with somebody standing at x px, their feet near its lower edge."""
    out = np.ascontiguousarray(picture).copy()
    hips = np.array([x, 0.93 * out.shape[0] - (THIGH + SHIN) * trunk])
    for side in (0.5, 0.0):  # the far leg first
        turn = np.sin(2 * np.pi * (phase + side)) if phase else 0.12 * (1 - 4 * side)
        lifts = max(0.0, np.cos(2 * np.pi * (phase + side))) if phase else 0.0
        _leg(out, hips, trunk, thigh_deg=26 * turn + 12 * lifts, shin_deg=26 * turn - 38 * lifts)
    cv2.circle(out, tuple(int(v) for v in hips), round(1.3 * THICK * trunk), SHORTS, -1, cv2.LINE_AA)
    scale = trunk / figure.trunk
    turn = cv2.getRotationMatrix2D(tuple(map(float, figure.hips)), pitch_deg, scale)
    turn[:, 2] += hips - figure.hips
    size = out.shape[1], out.shape[0]
    body, share = (
        cv2.warpAffine(figure.image, turn, size),
        cv2.warpAffine(figure.share, turn, size)[..., None],
    )
    return (out * (1 - share) + body * share).astype(np.uint8)


def _leg(picture, hips, trunk, thigh_deg, shin_deg):
    """Draw a leg; its angles are from straight down, forward (left) positive."""

    def below(start, length, deg):
        return start + length * trunk * np.array([-np.sin(np.radians(deg)), np.cos(np.radians(deg))])

    def line(start, end, width, colour):
        points = [tuple(round(v) for v in p) for p in (start, end)]
        cv2.line(picture, *points, colour, round(2 * width * trunk), cv2.LINE_AA)

    knee = below(hips, THIGH, thigh_deg)
    ankle = below(knee, SHIN, shin_deg)
    line(knee, ankle, 0.7 * THICK, SKIN)
    line(hips, hips + 0.9 * (knee - hips), THICK, SHORTS)
    line(ankle, ankle + trunk * np.array([-0.3, 0.02]), 0.6 * THICK, SHOE)
