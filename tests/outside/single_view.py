"""How wrong an angle read in one picture is, by how obliquely the camera sees the joint.

Real footage: four synchronised, calibrated cameras in the wheel of pose2sim 0.10.49 (BSD-3), one man,
100 frames at 60 a second. The reference is the joint triangulated from the landmarks of the cameras.
``python -m tests.outside.single_view`` prints the tables of docs/single-view-error.md.
"""

from __future__ import annotations

import sys
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from shared.keypoints import INDEX
from tests.outside.registry import member, wheel
from vision.common.geometry import included_angle

DEMO = "Pose2Sim/Demo_SinglePerson"
JOINTS = {
    "knee": ("hip", "knee", "ankle"),
    "elbow": ("shoulder", "elbow", "wrist"),
    "hip": ("shoulder", "hip", "knee"),
}
#: Degrees between the line of sight and the normal of the joint's plane.
BINS = ((0, 30), (30, 45), (45, 60), (60, 75), (75, 90))
#: The landmark model needs some frames to settle on the person.
SETTLED_FROM = 5
#: A reference holds where each camera it rests on sees the point within this many pixels (about 6 cm).
#: The misfit is that large mostly because landmarks of one joint differ between views.
MAX_OFF_PX = 30.0
#: A nearly straight joint has no plane, and no camera can misread it much.
BENT_UNDER_DEG = 150.0


@dataclass(frozen=True)
class Camera:
    """projection (3, 4) from metres to pixels, and where the camera stands (3,) in metres."""

    projection: np.ndarray
    place: np.ndarray

    def project(self, points: np.ndarray) -> np.ndarray:
        """Pixels (..., 2) of points (..., 3); lens distortion is left out (it leaves the misfit as it is)."""
        seen = points @ self.projection[:, :3].T + self.projection[:, 3]
        return seen[..., :2] / seen[..., 2:]


@dataclass(frozen=True)
class Reading:
    """One joint in one frame and view: degrees. turn: the joint's own name with its side and camera."""

    turn: tuple[int, str, str]
    obliquity: float
    reference: float
    projected: float
    measured: float


def cameras(calibration: Path) -> list[Camera]:
    """The cameras of a Qualisys calibration file: positions in mm, lengths of the lens in 1/64 px."""
    out = []
    for entry in ET.parse(calibration).getroot().findall("cameras/camera"):
        place, lens = entry.find("transform"), entry.find("intrinsic")
        assert place is not None
        assert lens is not None
        axes = np.array([[float(place.attrib[f"r{i}{j}"]) for j in (1, 2, 3)] for i in (1, 2, 3)])
        centre = np.array([float(place.attrib[k]) for k in "xyz"]) / 1000.0
        rotation = np.diag([1.0, -1.0, -1.0]) @ axes
        focal = [float(lens.attrib[f"focalLength{k}"]) / 64.0 for k in "UV"]
        middle = [float(lens.attrib[f"centerPoint{k}"]) / 64.0 for k in "UV"]
        inner = np.array([[focal[0], 0, middle[0]], [0, focal[1], middle[1]], [0, 0, 1]])
        out.append(Camera(inner @ np.c_[rotation, -rotation @ centre], centre))
    return out


def triangulate(views: list[Camera], pixels: np.ndarray) -> np.ndarray:
    """Points (N, K, 3) in metres that fit pixels (V, N, K, 2) best, by the direct linear transform."""
    rows = [
        pixels[v, ..., axis, None] * camera.projection[2] - camera.projection[axis]
        for v, camera in enumerate(views)
        for axis in (0, 1)
    ]
    system = np.stack(rows, axis=-2)
    system /= np.linalg.norm(system, axis=-1, keepdims=True)
    solution = np.linalg.svd(system)[2][..., -1, :]
    return solution[..., :3] / solution[..., 3:]


def look() -> tuple[list[Camera], np.ndarray]:
    """The four cameras, and the landmarks each saw: (4, N, 33, 2) px."""
    from vision.seeing.clip import open_clip
    from vision.seeing.pose_mediapipe import MediaPipePose

    package = wheel("pose2sim", "0.10.49")
    views = cameras(member(package, f"{DEMO}/calibration/Calib.qca.txt"))
    seen = []
    for number in range(1, len(views) + 1):
        source = open_clip(member(package, f"{DEMO}/videos/cam0{number}.mp4"))
        found = MediaPipePose().follow(source.frames(), (0, 0, source.clip.width, source.clip.height))
        seen.append(found.image_px[SETTLED_FROM:, 0, :, :2])
    return views, np.stack(seen)


def readings(views: list[Camera], pixels: np.ndarray, left_out: bool) -> list[Reading]:
    """Every usable joint of every frame and view.

    left_out: leave the judged view out of the reference, so that the two share no landmark error;
    such a reference rests on three views and is rougher itself.
    """
    out = []
    for judged, camera in enumerate(views):
        used = [v for v in range(len(views)) if not (left_out and v == judged)]
        points = triangulate([views[v] for v in used], pixels[used])
        off = [np.linalg.norm(views[v].project(points) - pixels[v], axis=-1) for v in used]
        good = np.nan_to_num(np.max(off, axis=0), nan=np.inf) < MAX_OFF_PX
        for joint, parts in JOINTS.items():
            for side in ("left", "right"):
                index = [INDEX[f"{side}_{p}"] for p in parts]
                turn = (judged, joint, side)
                out += _joint(turn, camera, points[:, index], pixels[judged][:, index], good[:, index])
    return out


def _joint(
    turn: tuple[int, str, str], camera: Camera, points: np.ndarray, seen: np.ndarray, good: np.ndarray
) -> list[Reading]:
    """The usable frames of one joint in one view; points (N, 3, 3), seen (N, 3, 2), good (N, 3)."""
    reference = included_angle(*np.moveaxis(points, 1, 0))
    projected = included_angle(*np.moveaxis(camera.project(points), 1, 0))
    measured = included_angle(*np.moveaxis(seen, 1, 0))
    normal = np.cross(points[:, 0] - points[:, 1], points[:, 2] - points[:, 1])
    sight = points[:, 1] - camera.place
    along = np.abs(np.sum(normal * sight, axis=-1))
    along /= np.linalg.norm(normal, axis=-1) * np.linalg.norm(sight, axis=-1)
    obliquity = np.degrees(np.arccos(np.clip(along, 0.0, 1.0)))
    usable = np.flatnonzero(good.all(axis=1) & (reference < BENT_UNDER_DEG))
    return [
        Reading(turn, *(float(v[i]) for v in (obliquity, reference, projected, measured))) for i in usable
    ]


@dataclass(frozen=True)
class Row:
    """One line of the table: n readings, of so many joints in views; mean absolute errors and bias, deg."""

    low: int
    high: int
    n: int
    turns: int
    error: float
    bias: float
    projection: float


def table(found: list[Reading]) -> list[Row]:
    """The readings by obliquity."""
    out = []
    for low, high in BINS:
        part = [r for r in found if low <= r.obliquity < high]
        error = np.array([r.measured - r.reference for r in part])
        projection = np.array([r.projected - r.reference for r in part])
        out.append(
            Row(
                low, high, len(part), len({r.turn for r in part}), float(np.abs(error).mean()),
                float(error.mean()), float(np.abs(projection).mean()),
            )
        )  # fmt: skip
    return out


def as_markdown(rows: list[Row]) -> str:
    """The table for the docs page."""
    lines = [
        "| degrees off the joint's normal | n | joints in views | error | bias | projection alone |",
        "|---|---|---|---|---|---|",
    ]
    lines += [
        f"| {r.low} to {r.high} | {r.n} | {r.turns} | {r.error:.1f} | {r.bias:+.1f} | {r.projection:.1f} |"
        for r in rows
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    seen_by = look()
    for leave_out in (False, True):
        sys.stdout.write(as_markdown(table(readings(*seen_by, leave_out))) + "\n")
