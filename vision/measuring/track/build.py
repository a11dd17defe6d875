"""landmarks -> track: the subject's points, mended, on a uniform clock, low-passed.

In order: left and right swaps mended, put in the room where the phone moved, slips left out, points outside
the picture or hardly visible made unknown, gaps up to 0.45 s bridged, resampled, low-passed without lag.
Longer gaps stay NaN and are carried through to "cannot tell".
"""

from __future__ import annotations

import numpy as np

from shared.domain import Clip, Floats, Landmarks, Track, View, ViewName, mapped
from shared.keypoints import INDEX, MIRRORED, Side
from vision.common.between import between, known_together
from vision.common.geometry import distance
from vision.common.poses import torso
from vision.measuring.track.filters import filter_known, known_percentile, residual_cutoff, runs
from vision.measuring.track.room import back, to_room
from vision.measuring.track.slips import slipped
from vision.seeing.camera import CameraPath

#: Over a look left out, or missed, the points are taken to go straight on.
MAX_BRIDGE_S = 0.45
RATE_HZ = 30.0
#: The low-pass is chosen from this many seconds at most.
CUTOFF_S = 120.0
#: Visibility only ranks (hidden joints are invented): under this a point is called unseen.
POINT_SEEN = 0.35
#: Beyond this many degrees from front, side and rear the view is called oblique.
OBLIQUE_DEG = 35.0
STEADIED = "the phone moved: its own motion taken out, by what stands still in the room"
#: Winter 2009 after Drillis and Contini 1966, heights over stature: shoulder .818, hip .530.
TRUNK_OVER_STATURE = 0.818 - 0.530
_ARM = ("shoulder", "elbow", "wrist", "pinky", "index", "thumb")
_LEG = ("hip", "knee", "ankle", "heel", "foot_index")
_VIEWS: dict[float, ViewName] = {0.0: "front", 90.0: "side-left", -90.0: "side-right", 180.0: "rear"}


def build_track(
    subject: Landmarks,
    clip: Clip,
    limbs: tuple[str, ...],
    side: Side | None = None,
    height_cm: float | None = None,
    may_hide: tuple[str, ...] = (),
    camera: CameraPath | None = None,
) -> Track | None:
    """The subject's track; None when fewer than twelve frames hold the subject.

    limbs: the parts the exercise needs, from which the low-pass cut-off is chosen; side: overrides
    the near side; height_cm: body height, which gives the scale in centimetres; may_hide: parts kept
    where they are guessed; camera: how it moved: the track is that of the room then, where level, directions
    and lengths stay what they are and a hand's sway is no movement.
    """
    found = ~np.isnan(subject.image_px[:, 0, 0, 0])
    if np.count_nonzero(found) < 12:
        return None
    image, world, seen, swaps = mend_swaps(subject)
    usable = _usable(image, seen, clip, may_hide)
    image = image if camera is None else mapped(to_room(camera, subject.time_s)[0], image)
    view = estimate_view(world[_settled(image, found)])
    near: Side = side or ("left" if view.yaw_deg > 0 else "right")
    slips = slipped(image, subject.time_s)
    image[slips | ~usable], world[slips] = np.nan, np.nan
    time_s = np.arange(0.0, float(subject.time_s[-1]) + 1e-9, 1.0 / RATE_HZ)
    points, world, visibility = (
        between(values, subject.time_s, time_s, MAX_BRIDGE_S) for values in (image, world, seen[..., None])
    )
    cutoff = _cutoff(points, near, limbs)
    smooth = _smooth(points, cutoff)
    trunk_px = _trunk_px(smooth)
    to_picture, placed = _from_room(camera, time_s)
    return Track(
        time_s=time_s,
        rate_hz=RATE_HZ,
        points_px=smooth,
        world_m=_smooth(world, cutoff),
        visibility=visibility[..., 0],
        jitter_px=_jitter(points - smooth),
        near=near,
        facing=facing_of(view),
        view=view,
        trunk_px=trunk_px,
        picture=(clip.width, clip.height),
        cm_per_px=TRUNK_OVER_STATURE * height_cm / trunk_px if height_cm else None,
        to_picture=to_picture,
        placed=placed,
        log=_log(camera is not None, swaps, slips=slips, cutoff=cutoff),
    )


def _log(moved: bool, swaps: int, slips: np.ndarray, cutoff: float) -> tuple[str, ...]:
    """What was done, in order; moved: the phone did."""
    steps = (
        f"left and right mended in {swaps} frames",
        STEADIED if moved else "",
        f"points read elsewhere for a moment left out of {int(slips.any(axis=1).sum())} frames",
        f"visibility under {POINT_SEEN} and points outside the picture made unknown",
        f"gaps up to {MAX_BRIDGE_S} s bridged, resampled at {RATE_HZ:g} Hz",
        f"Butterworth, second order, both ways, cut-off {cutoff:g} Hz by residual analysis",
    )
    return tuple(step for step in steps if step)


def _from_room(camera: CameraPath | None, time_s: Floats) -> tuple[Floats | None, np.ndarray | None]:
    """Of a phone that moved the way from the room to its pictures, (T, 2, 3), and when it is known, (T,)."""
    if camera is None:
        return None, None
    maps, known = to_room(camera, time_s)
    return back(maps), known


def _settled(image: Floats, found: np.ndarray) -> np.ndarray:
    """Frames in which the person is where they mostly are, within half a trunk length; image (N, 33, 2)."""
    centre, trunk = torso(image)
    off = distance(centre, np.nanmedian(centre[found], axis=0))
    with np.errstate(invalid="ignore"):
        return np.asarray(found & (off < 0.5 * np.nanmedian(trunk[found])))


def estimate_view(world_m: Floats) -> View:
    """Where the camera stands, from world landmarks (N, 33, 3): median turn of hips and shoulders."""
    left = [INDEX["left_hip"], INDEX["left_shoulder"]]
    right = [INDEX["right_hip"], INDEX["right_shoulder"]]
    across = (world_m[:, left] - world_m[:, right]).sum(axis=1)
    x, z = np.nanmedian(across[:, 0]), np.nanmedian(across[:, 2])
    yaw = float(np.degrees(np.arctan2(-z, x)))
    off = {base: abs((yaw - base + 180.0) % 360.0 - 180.0) for base in _VIEWS}
    nearest = min(off, key=lambda base: off[base])
    name: ViewName = _VIEWS[nearest] if off[nearest] <= OBLIQUE_DEG else "oblique"
    return View(name, off[nearest], yaw)


def facing_of(view: View) -> int:
    """+1 facing the picture's right edge, -1 the left, 0 in front and rear views."""
    if view.name in ("front", "rear"):
        return 0
    return -1 if view.yaw_deg > 0 else 1


def mend_swaps(subject: Landmarks) -> tuple[Floats, Floats, Floats, int]:
    """Arms and legs put back where left and right changed places from one frame to the next.

    Returns image (N, 33, 2), world (N, 33, 3), visibility (N, 33) and the number of frames mended.
    """
    image = subject.image_px[:, 0, :, :2].copy()
    world, seen = subject.world_m[:, 0].copy(), subject.visibility[:, 0].copy()
    mended = np.zeros(len(image), dtype=bool)
    for chain in (_ARM, _LEG):
        index = [INDEX[f"{side}_{part}"] for side in ("left", "right") for part in chain]
        swapped = _swapped(image[:, index])
        other = [MIRRORED[i] for i in index]
        for values in (image, world, seen):
            rows = np.flatnonzero(swapped)[:, None]
            values[rows, index] = values[rows, other]
        mended |= swapped
    return image, world, seen, int(mended.sum())


def _swapped(points: Floats) -> np.ndarray:
    """Which frames have the two sides exchanged against the majority; points (N, 2 * parts, 2)."""
    half = points.shape[1] // 2
    mirror = np.r_[half : 2 * half, 0:half]
    known = np.flatnonzero(~np.isnan(points).any(axis=(1, 2)))
    now, before = points[known[1:]], points[known[:-1]]
    same = distance(now, before).sum(axis=1)
    crossed = distance(now[:, mirror], before).sum(axis=1)
    far = half * np.nanmedian(distance(points[:, :half], points[:, half:]))
    # From a frame as it is, and from one that is exchanged, in which each reading becomes the other.
    leaves = (crossed < 0.5 * same) & (same > far)
    stays = (same < 0.5 * crossed) & (crossed > far)
    state = np.zeros(len(points), dtype=bool)
    exchanged = False
    for row, leave, stay in zip(known[1:].tolist(), leaves.tolist(), stays.tolist(), strict=True):
        state[row] = exchanged = stay if exchanged else leave
    seen = ~np.isnan(points[:, 0, 0])
    return ~state & seen if state[seen].mean() > 0.5 else state


def _usable(image: Floats, seen: Floats, clip: Clip, may_hide: tuple[str, ...]) -> np.ndarray:
    """Which points (N, 33) lie in the picture and are seen, or may be guessed."""
    inside = (image >= 0).all(axis=-1) & (image[..., 0] < clip.width) & (image[..., 1] < clip.height)
    guessed = [INDEX[f"{side}_{part}"] for side in ("left", "right") for part in may_hide]
    usable = seen >= POINT_SEEN
    usable[:, guessed] = ~np.isnan(seen[:, guessed])
    return np.asarray(inside & usable)


def _cutoff(points: Floats, near: Side, limbs: tuple[str, ...]) -> float:
    """The highest residual-analysis cut-off of the moving limb's coordinates, longest known run."""
    found = []
    for part in limbs[-2:]:
        for axis in (0, 1):
            values = points[:, INDEX[f"{near}_{part}"], axis]
            start, stop = max(runs(~np.isnan(values)), key=lambda r: r[1] - r[0], default=(0, 0))
            if stop - start >= 2 * RATE_HZ:
                enough = min(stop, start + round(CUTOFF_S * RATE_HZ))
                found.append(residual_cutoff(values[start:enough], RATE_HZ))
    return max(found, default=6.0)


def _smooth(values: Floats, cutoff_hz: float) -> Floats:
    """Low-passed points (T, K, D)."""
    out = np.empty_like(values)
    for _, points in known_together(values):
        side_by_side = values[:, points].reshape(len(values), -1)
        smooth = filter_known(side_by_side, RATE_HZ, cutoff_hz)
        out[:, points] = smooth.reshape(len(values), len(points), -1)
    return out


def _jitter(residual: Floats) -> Floats:
    """Robust standard deviation of what smoothing took away, (33,); NaN where never known."""
    size = np.abs(residual).max(axis=-1)
    out = np.full(size.shape[1], np.nan)
    for k in range(size.shape[1]):
        known = size[~np.isnan(size[:, k]), k]
        if len(known):
            out[k] = 1.4826 * float(np.median(known))
    return out


def _trunk_px(points: Floats) -> float:
    shoulder = (points[:, INDEX["left_shoulder"]] + points[:, INDEX["right_shoulder"]]) / 2
    hip = (points[:, INDEX["left_hip"]] + points[:, INDEX["right_hip"]]) / 2
    length = distance(shoulder, hip)
    if np.isnan(length).all():
        pairs = [(INDEX[f"{s}_shoulder"], INDEX[f"{s}_hip"]) for s in ("left", "right")]
        length = np.concatenate([distance(points[:, a], points[:, b]) for a, b in pairs])
    return known_percentile(length, 50)
