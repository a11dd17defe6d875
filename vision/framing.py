"""One still picture before the set: will this framing do? Light, focus, whole limbs, the view.

The same reasons as for a clip (``vision.judging.quality``), in words that fit a picture. One picture
shows one end of the movement only, so nothing here promises that the other end stays in the picture too.
"""

from __future__ import annotations

import io

import cv2
import numpy as np
from PIL import Image as Picture
from PIL import ImageOps

from shared.domain import Floats, Frame, Image, Landmarks, View
from shared.errors import ClipError
from shared.exercise import Exercise
from shared.keypoints import INDEX, Side
from vision.common.poses import torso
from vision.common.quantities import listed
from vision.common.seams import Box, PoseEstimator
from vision.judging.quality import THRESHOLDS, Problem, nearest_view_deg, picture_problems
from vision.measuring.track.build import estimate_view
from vision.seeing.light import sharpness
from vision.seeing.subject import SURVEY_PEOPLE

#: A picture is looked at no larger than this, in pixels of its longer side.
LONGEST_PX = 1280
#: Larger pictures are refused before they are decoded.
MOST_PIXELS = 60_000_000
#: Room wanted between a needed part and the picture's edge, as a share of its longer side. On rendered
#: sets no hand or foot came nearer than 0.057, and where a limb was cut off nearly all lay within this.
ROOM_SHARE = 0.03
#: Under this visibility a part counts as hidden. One picture has no neighbours to mend it by, so more is
#: asked than of a clip: a limb that was cut off is still guessed, with a visibility of 0.3 to 0.6.
SEEN_WELL = 0.6
#: What belongs to a part where it ends a limb.
_TIPS = {"ankle": ("heel", "foot_index"), "wrist": ("index", "pinky")}
#: The part of the picture about a person, beyond their outermost points, in trunk lengths.
AROUND = 0.6
_TEXTS = {
    "no-person": "No person was found. Take the picture with the member on the machine, head to feet in it.",
    "limb-out-of-picture": (
        "{limbs}: out of the picture, or too near its edge. Move the phone back or turn it for more room."
    ),
    "limb-hidden": (
        "{limbs}: not seen well. Move the phone until nothing stands in front and all is in the picture."
    ),
    "wrong-view": (
        "The phone stands in the wrong place, {off:.0f} degrees off. Film straight from the {views}."
    ),
    "too-blurred": "The picture is too blurred. Wipe the lens, tap to focus, stand the phone somewhere firm.",
}


def read_picture(data: bytes) -> Image:
    """A photograph as upright RGB (H, W, 3), its longer side at most ``LONGEST_PX``.

    Raises
    ------
    ClipError : it is no picture that can be read, or too large.
    """
    try:
        with Picture.open(io.BytesIO(data)) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise ClipError("This picture is too large; take it at the phone's usual size.")
            opened.draft("RGB", (LONGEST_PX, LONGEST_PX))
            upright = ImageOps.exif_transpose(opened).convert("RGB")
    except (OSError, ValueError, SyntaxError, Picture.DecompressionBombError) as error:
        raise ClipError("This is no picture that can be read; send a JPEG, PNG or WebP photo.") from error
    upright.thumbnail((LONGEST_PX, LONGEST_PX))
    return np.asarray(upright, dtype=np.uint8)


def framing_problems(image: Image, exercise: Exercise, pose: PoseEstimator) -> list[Problem]:
    """What stands against filming with the phone where it stood for this picture; empty when it will do.

    image: upright RGB uint8 (H, W, 3). The largest person is judged. Codes are those of
    ``vision.judging.quality``. The view comes first: from a wrong one no limb can be asked for.
    """
    seen = pose.survey([Frame(0, 0.0, image)], SURVEY_PEOPLE)
    one = _largest(seen)
    height, width = image.shape[:2]
    light = _light(
        image, (0, 0, width, height) if one is None else _around(seen, one, width=width, height=height)
    )
    if one is None:
        return light or [_problem("no-person")]
    view = estimate_view(seen.world_m[:, one])
    off = nearest_view_deg(abs(view.yaw_deg), abs(abs(view.yaw_deg) - 90.0), exercise)
    if off > THRESHOLDS.off_view_deg:
        return [*light, _problem("wrong-view", off=off, views=" or ".join(v.name for v in exercise.views))]
    return [*light, *_limbs(seen, one, view=view, exercise=exercise, size=(width, height))]


def _problem(code: str, **values: object) -> Problem:
    return Problem(code, _TEXTS[code].format(**values))


def _largest(seen: Landmarks) -> int | None:
    """The slot of the person with the longest trunk, None where there is nobody."""
    if not len(seen.frame):
        return None
    trunk = np.where(np.isnan(seen.image_px[0, :, 0, 0]), np.nan, torso(seen.image_px[0])[1])
    return None if np.isnan(trunk).all() else int(np.nanargmax(trunk))


def _around(seen: Landmarks, one: int, width: int, height: int) -> Box:
    points = seen.image_px[0, one, :, :2]
    more = AROUND * float(torso(seen.image_px[0, one])[1])
    left, top = (int(v) for v in np.maximum(points.min(axis=0) - more, 0))
    right, bottom = (int(v) for v in points.max(axis=0) + more)
    box = min(left, width - 32), min(top, height - 32), min(right, width), min(bottom, height)
    return box if box[2] - box[0] >= 32 and box[3] - box[1] >= 32 else (0, 0, width, height)


def _light(image: Image, box: Box) -> list[Problem]:
    left, top, right, bottom = box
    grey = cv2.cvtColor(image, cv2.COLOR_RGB2GRAY)[top:bottom, left:right]
    found = picture_problems(float(np.median(grey)), sharpness(grey))
    return [_problem(p.code) if p.code in _TEXTS else p for p in found]


def _limbs(seen: Landmarks, one: int, view: View, exercise: Exercise, size: tuple[int, int]) -> list[Problem]:
    """Needed parts at or past the picture's edge, hands and feet with them, else those not seen."""
    out, hidden = [], []
    for part in exercise.limbs:
        for side in _sides(view):
            whole = [INDEX[f"{side}_{name}"] for name in (part, *_TIPS.get(part, ()))]
            if any(_at_edge(seen.image_px[0, one, k, :2], size) for k in whole):
                out.append(part)
            elif seen.visibility[0, one, whole[0]] < SEEN_WELL and part not in exercise.may_hide:
                hidden.append(part)
    code, parts = ("limb-out-of-picture", out) if out else ("limb-hidden", hidden)
    return [_problem(code, limbs=listed(list(dict.fromkeys(parts))).capitalize())] if parts else []


def _sides(view: View) -> tuple[Side, ...]:
    """The near side in side views, else both."""
    if not view.is_side:
        return "left", "right"
    return ("left",) if view.yaw_deg > 0 else ("right",)


def _at_edge(point: Floats, size: tuple[int, int]) -> bool:
    room = ROOM_SHARE * max(size)
    return bool((point < room).any() or (point > np.array(size) - room).any())
