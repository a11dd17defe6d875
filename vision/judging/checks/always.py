"""What holds from the first repetition to the last, against limits that need no yardstick: questions alone.

A change within the set shows nothing of it. Without the approved set or a mark on the machine a value by
itself is poorly known, so it is put to the trainer and never flagged.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from shared.domain import Rep, Signal
from shared.exercise import CheckSpec
from vision.judging.check import MAX_MISSING_SHARE, Context, Params, check
from vision.judging.checks.ends import End, end_windows
from vision.judging.evidence import Answer, Measurement, NotMeasured

#: Fewer repetitions than this say nothing of a whole set.
FEWEST = 3


class AlwaysParams(Params):
    """end: about which end of the drive; None: over the whole repetition."""

    end: End | None = None


@check("all_set", AlwaysParams, limit=("at_most", "at_least"), of_set=True, needs_signal=True)
def all_set(ctx: Context, spec: CheckSpec, params: AlwaysParams) -> Iterable[Answer]:
    """A signal's usual value over the set, in the signal's unit; at most a question."""
    found = usual_value(ctx, ctx.signal_of(spec), end=params.end)
    yield replace(found, question=True) if isinstance(found, Measurement) else found


def usual_value(ctx: Context, signal: Signal, end: End | None = None) -> Answer:
    """The median of what each full repetition shows of a signal, and each repetition's own value.

    end: about which end of the drive; None: over the whole repetition.
    """
    windows = [(rep, _window(ctx, rep, end)) for rep in ctx.reps.full]
    parts = [(rep, window, signal.between(*window)) for rep, window in windows]
    seen = [
        (rep.number, float(np.nanmedian(part.values)), sum(window) / 2)
        for rep, window, part in parts
        if part.missing_share <= MAX_MISSING_SHARE
    ]
    if len(seen) < FEWEST:
        return NotMeasured(None, "it was hidden in too many repetitions", "limb-hidden")
    value = float(np.median([one for _, one, _ in seen]))
    return Measurement(
        rep=None,
        value=value,
        uncertainty=signal.clip_half,
        unit=signal.unit,
        time_s=min(seen, key=lambda one: abs(one[1] - value))[2],
        points=signal.points,
        per_rep=tuple((number, one) for number, one, _ in seen),
    )


def _window(ctx: Context, rep: Rep, end: End | None) -> tuple[float, float]:
    return (rep.start_s, rep.end_s) if end is None else end_windows(rep, ctx.reps, end)[0]
