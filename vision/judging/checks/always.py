"""What holds from the first repetition to the last, against limits that need no yardstick: questions alone.

A change within the set shows nothing of it. Without the approved set or a mark on the machine a value by
itself is poorly known, so it is put to the trainer and never flagged.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from shared.domain import Rep
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
    """A signal's usual value: the median of what each full repetition shows of it."""
    signal = ctx.signal_of(spec)
    parts = [(rep, signal.between(*_window(ctx, rep, params.end))) for rep in ctx.reps.full]
    seen = [(rep, part.values) for rep, part in parts if part.missing_share <= MAX_MISSING_SHARE]
    if len(seen) < FEWEST:
        yield NotMeasured(None, "the body was hidden in too many repetitions", "limb-hidden")
        return
    values = [float(np.nanmedian(part)) for _, part in seen]
    value = float(np.median(values))
    example = seen[int(np.argmin(np.abs(np.array(values) - value)))][0]
    yield Measurement(
        rep=None,
        value=value,
        uncertainty=signal.bias,
        unit=signal.unit,
        time_s=(example.turn_s + example.lower_start_s) / 2
        if params.end != "load-down-end"
        else example.end_s,
        points=signal.points,
        note="so from the first repetition to the last",
        question=True,
    )


def _window(ctx: Context, rep: Rep, end: End | None) -> tuple[float, float]:
    return (rep.start_s, rep.end_s) if end is None else end_windows(rep, ctx.reps, end)[0]
