"""Numbers, limits and lists as people write them."""

from __future__ import annotations

from collections.abc import Sequence

from shared.domain import Unit

Bound = float | Sequence[float | None] | None

_DECIMALS: dict[Unit, int] = {"deg": 0, "s": 1, "cm": 1, "trunk_fraction": 2, "%": 0, "reps": 0, "ratio": 0}
_WORDS: dict[Unit, tuple[str, str]] = {
    "deg": (" degree", " degrees"),
    "s": (" second", " seconds"),
    "cm": (" cm", " cm"),
    "trunk_fraction": (" of the trunk's length", " of the trunk's length"),
    "%": (" %", " %"),
    "reps": (" repetition", " repetitions"),
    "ratio": (" %", " %"),
}


def number(value: float, unit: Unit, more: int = 0) -> str:
    """A value as people write it, without its unit; a ratio reads as a percentage.

    more: decimals beyond the usual ones of the unit.
    """
    shown = value * 100 if unit == "ratio" else value
    decimals = _DECIMALS[unit] + more
    return f"{round(shown, decimals) + 0.0:.{decimals}f}"


def quantity(value: float, unit: Unit, against: Bound = None) -> str:
    """A value with its unit in words: ``12 degrees``, ``0.8 seconds``, ``1 repetition``.

    against: a limit; a value beyond it gets one more decimal where it would read like the limit.
    """
    text = number(value, unit)
    bounds = [against] if isinstance(against, int | float) else list(against or ())
    if any(b is not None and b != value and number(b, unit) == text for b in bounds):
        text = number(value, unit, more=1)
    one, many = _WORDS[unit]
    return text + (one if text == "1" else many)


def give_or_take(uncertainty: float, unit: Unit) -> str:
    """A half-width in words, never rounded down to nothing."""
    text = number(uncertainty, unit)
    smallest = 10.0 ** -_DECIMALS[unit]
    return f"give or take {text}" if float(text) else f"give or take less than {smallest:g}"


def pivot_words(along: float, across: float, unit: Unit) -> str:
    """``3.1 cm beyond the knee and 1.0 cm above the thigh's line``: where the machine's axis lies.

    along: positive beyond the knee, negative towards the hip; across: positive above the thigh's line.
    """
    side = "beyond the knee" if along >= 0 else "towards the hip from the knee"
    level = "above" if across >= 0 else "below"
    return f"{quantity(abs(along), unit)} {side} and {quantity(abs(across), unit)} {level} the thigh's line"


def limit_words(limit: Bound, unit: Unit) -> str:
    """A limit with its unit: a number, ``12 to 15 repetitions``, or an open side."""
    if limit is None:
        return "no limit"
    if isinstance(limit, int | float):
        return quantity(limit, unit)
    low, high = limit
    if low is not None and high is not None:
        return f"{number(low, unit)} to {quantity(high, unit)}"
    bound = high if low is None else low
    return quantity(bound, unit) if bound is not None else "no limit"


def listed(words: Sequence[str]) -> str:
    """Words one after the other, the last after "and"."""
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part) if words else ""


def numbered(reps: Sequence[int]) -> str:
    """``repetition 4`` or ``repetitions 4, 9 and 12``, as given."""
    return f"{'repetition' if len(reps) == 1 else 'repetitions'} {listed([str(rep) for rep in reps])}"
