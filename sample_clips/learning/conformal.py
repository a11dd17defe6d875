"""Half-widths that hold for the next clip, not the next frame: moments of one clip resemble each other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

LEVEL = 0.9


def half_width(errors_by_clip: Sequence[np.ndarray], level: float = LEVEL) -> float:
    """The error that ``level`` of the moments of an average clip keep within; each clip has one vote.

    Pooled distribution of exchangeable groups (Dunn, Wasserman and Ramdas 2022, from memory), without
    their extra vote for the clip not yet seen, which with a dozen clips would always give the largest
    error: so it is no guarantee, and the bench measures on its validation part how often it holds.
    errors_by_clip: one array of errors a clip.
    """
    clips = [np.sort(np.abs(e)) for e in errors_by_clip if len(e)]
    candidates = np.unique(np.concatenate(clips))
    covered = sum(np.searchsorted(e, candidates, side="right") / len(e) for e in clips) / len(clips)
    return float(candidates[np.flatnonzero(covered >= level - 1e-9)[0]])
