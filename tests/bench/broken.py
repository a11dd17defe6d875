"""Ways to spoil landmarks, to see that the bench notices: python -m tests.bench --broken swap."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from shared.domain import Landmarks
from shared.keypoints import INDEX
from vision.seeing.look import Seen

SWAPPED = (("knee", "ankle"), ("elbow", "wrist"))
SHIFT_S = 0.3


def swap(seen: Landmarks) -> Landmarks:
    """Knees change places with ankles, elbows with wrists."""
    order = np.arange(seen.image_px.shape[2])
    for a, b in ((f"{s}_{a}", f"{s}_{b}") for s in ("left", "right") for a, b in SWAPPED):
        order[[INDEX[a], INDEX[b]]] = order[[INDEX[b], INDEX[a]]]
    return replace(seen, image_px=seen.image_px[:, :, order], world_m=seen.world_m[:, :, order])


def shift(seen: Landmarks) -> Landmarks:
    """All times late."""
    return replace(seen, time_s=seen.time_s + SHIFT_S)


def drop(seen: Landmarks) -> Landmarks:
    """The person is gone from every fifth picture looked at."""
    image = seen.image_px.copy()
    image[::5] = np.nan
    return replace(seen, image_px=image)


def drop_runs(seen: Landmarks) -> Landmarks:
    """The person is gone from every second half second."""
    image = seen.image_px.copy()
    image[(seen.time_s % 1.0) < 0.5] = np.nan
    return replace(seen, image_px=image)


WAYS: dict[str, Callable[[Landmarks], Landmarks]] = {
    "swap": swap,
    "shift": shift,
    "drop": drop,
    "drop-runs": drop_runs,
}


def spoilt(seen: Seen, way: str) -> Seen:
    """What looking would have given, had it been broken in this way."""
    change = WAYS[way]
    dense = None if seen.dense is None else change(seen.dense)
    return replace(seen, survey=change(seen.survey), dense=dense)
