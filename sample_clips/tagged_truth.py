"""What a clip with drawn tags shows, exactly: the load's own way, its landings, and its moments.

The load's way between two frames of the truth is that of the drive, above which it never hangs lower than the
lifter holds it. ``with_landings`` lets it come down to the stack between repetitions, for the tag alone: the
lifter of the picture holds it up.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from sample_clips.rendering.profile import phase_bounds, smooth

STEP_S = 0.002
#: The load moves with the drive above this, as the renderer holds it off the stack by 2 cm.
MOVES_CM = 4.0
#: A landing is a stay within this of the stack; from REST_S on it is a rest, else a touch.
LOW_CM, REST_S = 1.0, 0.5
#: A touch: how long the load dips between two repetitions; a rest: how long it lies.
DIP_S, LIES_S = 0.3, 1.0
#: After these repetitions a load with landings touches, and rests.
TOUCHES, RESTS = (1, 3), (2,)

Rows = list[dict[str, Any]]


def load_way(arrays):
    """Time (s) and height (cm) of the load in fine steps, by the truth's arrays of each frame."""
    time_s, height, drive = (arrays[k].astype(float) for k in ("time_s", "stack_height_cm", "profile_deg"))
    moves = height > MOVES_CM
    slope, level = np.polyfit(drive[moves], height[moves], 1)
    fine = np.arange(time_s[0], time_s[-1], STEP_S)
    held = height > slope * drive + level + 0.02
    way = slope * CubicSpline(time_s, drive)(fine) + level
    floor = np.interp(fine, time_s[held], height[held]) if held.any() else 0.0
    return fine, np.maximum(way, np.where(_gap(fine, time_s, held), floor, 0.0))


def _gap(fine, time_s, held):
    """Where the nearest frame, or the one beside it, has the load held off the stack."""
    near = np.clip(np.searchsorted(time_s, fine), 1, len(time_s) - 1)
    return held[near] | held[near - 1]


def with_landings(time_s, height_cm, reps: Rows):
    """The same way with a touch or a rest on the stack after some repetitions."""
    out = height_cm.copy()
    for row, after in pairwise(reps):
        middle = (row["end_s"] + after["start_s"]) / 2
        if row["number"] in TOUCHES:
            dip = np.clip(1 - np.abs(time_s - middle) / (DIP_S / 2), 0, 1)
            out = np.maximum(out - smooth(dip) * float(np.interp(middle, time_s, height_cm)), 0.0)
        elif row["number"] in RESTS:
            out = np.where(
                (time_s > row["lower_start_s"]) & (time_s < after["turn_s"]),
                _lying(time_s, height_cm, row, after),
                out,
            )
    return out


def _lying(time_s, height_cm, row, after):
    """The way between two lift ends, let down so far that the load lies on the stack for LIES_S."""
    inside = (time_s > row["lower_start_s"]) & (time_s < after["turn_s"])
    deep = np.sort(height_cm[inside])[int(LIES_S / STEP_S)]
    top = max(height_cm[inside].max(), 1e-6)
    share = smooth(np.clip((top - height_cm) / (top - deep), 0, 1))
    return np.maximum(height_cm - deep * share, 0.0)


def landings(time_s, height_cm, reps: Rows):
    """Spans (s) within LOW_CM of the stack between the first repetition and the last."""
    low = (height_cm < LOW_CM) & (time_s > reps[0]["turn_s"]) & (time_s < reps[-1]["turn_s"])
    edges = np.flatnonzero(np.diff(np.r_[False, low, False].astype(int)))
    return [(float(time_s[a]), float(time_s[b - 1])) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def moments(time_s, height_cm, reps: Rows):
    """Start, turn, start of the lower and end (s) of the load's own repetitions, (R, 4)."""
    holds = [(row["turn_s"] + row["lower_start_s"]) / 2 for row in reps]
    lows = [0.0, *((a["end_s"] + b["start_s"]) / 2 for a, b in pairwise(reps)), time_s[-1]]
    out = []
    for before, hold, after in zip(lows, holds, lows[1:], strict=False):
        spans = [(time_s >= a) & (time_s <= b) for a, b in ((before, hold), (hold, after))]
        out.append([moment for span in spans for moment in phase_bounds(time_s[span], height_cm[span])])
    return np.array(out)
