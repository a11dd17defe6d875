"""Whether the limb at the load is seen, or guessed: its looks against how its own picture moved.

From one look to the next the picture about a hand or foot is followed. Where the next look has it far from
there, one of the two is wrong; where that goes on and on the landmark model guesses, and neither tells.
"""

from __future__ import annotations

import numpy as np

from shared.domain import Floats, Landmarks, RepSet, Track, mapped
from shared.keypoints import INDEX
from vision.measuring.track.filters import within
from vision.seeing.camera import CameraPath
from vision.seeing.flow import LimbFlow

#: Looks are compared that lie at least so far apart, and at most, s.
APART_S, FURTHEST_S = 0.18, 0.45
#: A look has strayed that lies further than this from where the flow leads, trunk lengths.
FAR_TRUNKS = 0.2
#: An end that was followed between fewer than this share of the set's looks does not tell.
FOLLOWED_SHARE = 0.5
#: Less than this of a step was lost: none.
SURELY = 1e-6


def strayed_share(
    subject: Landmarks, flow: LimbFlow | None, camera: CameraPath | None, *, track: Track,
    reps: RepSet | None, ends: tuple[str, ...],
) -> float:  # fmt: skip
    """The share of a set's looks that strayed, of that end of a limb which did so least.

    subject: one slot; camera: how it moved, which the flow leaves out; ends: the points that the load hangs
    on. 0 where nothing is known of them.
    """
    if flow is None or reps is None or len(flow.time_s) < 2:
        return 0.0
    inside = within(subject.time_s, reps.start_s, reps.end_s)
    time_s, places = subject.time_s[inside], subject.image_px[inside, 0, :, :2]
    if camera is not None:
        places = mapped(camera.at(time_s), places)
    far_px = FAR_TRUNKS * track.trunk_px
    shares = [_strayed(time_s, places[:, INDEX[name]], flow, name, far_px=far_px) for name in ends]
    return min((share for share in shares if share is not None), default=0.0)


def _strayed(time_s: Floats, place: Floats, flow: LimbFlow, name: str, far_px: float) -> float | None:
    """The share of looks (N,) whose place (N, 2) in the room strayed; None where hardly any was followed."""
    rows = _apart(time_s, np.flatnonzero(np.isfinite(place).all(axis=1)))
    went, known = _gone(flow, name, time_s[rows])
    known &= np.diff(time_s[rows]) <= FURTHEST_S
    if not known.size or known.mean() < FOLLOWED_SHARE:
        return None
    off = np.linalg.norm(np.diff(place[rows], axis=0) - went, axis=1)
    return float(np.mean(off[known] > far_px))


def _apart(time_s: Floats, known: np.ndarray) -> list[int]:
    """Those of the looks that are known (their rows) which lie at least ``APART_S`` after the one before."""
    rows: list[int] = []
    for row in known.tolist():
        if not rows or time_s[row] - time_s[rows[-1]] >= APART_S:
            rows.append(row)
    return rows


def _gone(flow: LimbFlow, name: str, moments_s: Floats) -> tuple[Floats, np.ndarray]:
    """How far a point went between moments (N,) by its flow, (N - 1, 2) px, and whether that is known."""
    steps = flow.steps(name)
    lost = np.isnan(steps).any(axis=1).astype(float)
    gone = np.cumsum(np.column_stack([np.nan_to_num(steps), lost]), axis=0)
    at = [np.interp(moments_s, flow.time_s, column, left=np.nan, right=np.nan) for column in gone.T]
    between = np.diff(np.stack(at, axis=-1), axis=0)
    return between[:, :2], between[:, 2] < SURELY
