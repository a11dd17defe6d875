"""The landmark names, their order, and what mirrors what: the only place an index exists.

The order is that of the 33-point pose topology of MediaPipe's PoseLandmarker (Apache-2.0).
"""

from __future__ import annotations

from typing import Final, Literal

Side = Literal["left", "right"]

_FACE_INNER = ("eye_inner", "eye", "eye_outer")
KEYPOINTS: Final[tuple[str, ...]] = (
    "nose",
    *(f"{side}_{part}" for side in ("left", "right") for part in _FACE_INNER),
    *(
        f"{side}_{part}"
        for part in (
            "ear",
            "mouth",
            "shoulder",
            "elbow",
            "wrist",
            "pinky",
            "index",
            "thumb",
            "hip",
            "knee",
            "ankle",
            "heel",
            "foot_index",
        )
        for side in ("left", "right")
    ),
)
INDEX: Final[dict[str, int]] = {name: i for i, name in enumerate(KEYPOINTS)}
HEAD: Final[tuple[str, ...]] = KEYPOINTS[:11]

#: Segments drawn on a picture and used for length tests, one side; ``mirror`` gives the other.
_LEFT_BONES: Final[tuple[tuple[str, str], ...]] = (
    ("left_shoulder", "left_elbow"),
    ("left_elbow", "left_wrist"),
    ("left_shoulder", "left_hip"),
    ("left_hip", "left_knee"),
    ("left_knee", "left_ankle"),
    ("left_ankle", "left_foot_index"),
)


def mirror(name: str) -> str:
    """The same point on the other side of the body; a midline point is its own mirror."""
    if name.startswith("left_"):
        return "right_" + name[5:]
    if name.startswith("right_"):
        return "left_" + name[6:]
    return name


MIRRORED: Final[tuple[int, ...]] = tuple(INDEX[mirror(name)] for name in KEYPOINTS)
BONES: Final[tuple[tuple[str, str], ...]] = _LEFT_BONES + tuple(
    (mirror(a), mirror(b)) for a, b in _LEFT_BONES
)


def of_side(part: str, side: Side) -> str:
    """Full name of a part on one side: ``of_side("knee", "left") == "left_knee"``."""
    name = f"{side}_{part}"
    if name not in INDEX:
        raise KeyError(f"no keypoint {name!r}")
    return name
