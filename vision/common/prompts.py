"""The words a member reads: prompts for flags, and the standing cautions of every report."""

from __future__ import annotations

from collections.abc import Sequence

from shared.domain import Unit, Verdict
from shared.exercise import NUMBERED, CheckSpec, Exercise

#: Stands once on a page, in its cautions; never behind a prompt.
LAST_WORD = "Your trainer has the last word."

STOP_ON = (
    "Stop on sharp or joint pain, chest pain or pressure, dizziness, numbness or unusual breathlessness: "
    "set the weight down if you safely can, and tell the trainer. "
    "Chest pain or fainting: call emergency help."
)
EXPECTED = "Tired or burning muscles are normal. Sharp or joint pain is not."
#: Common practice, no published source.
HANDLING = "Pin fully in; fingers and hair off the stack; phone and stand out of walkways."
NO_ADVICE = "This is not medical advice. Your trainer, licensed clinicians and local rules come first."

#: How a notice begins that a clip may be of another machine.
LOOKS_LIKE = "This looks like"
#: What a member, who cannot have it checked again, is asked then.
ASK_MACHINE = "If you trained on another machine, tell your trainer, who can have the clip checked again."

#: Stands in every report, whatever was found.
CAUTIONS: tuple[str, ...] = (
    STOP_ON,
    EXPECTED,
    HANDLING,
    "Keep to the limits your clinician or trainer gave you.",
    NO_ADVICE,
    LAST_WORD,
)

#: The same in short, where there is room for little.
SHORT_CAUTION = (
    "Stop on sharp or joint pain, chest pain or pressure, dizziness, numbness or unusual breathlessness, "
    f"and tell the trainer. Chest pain or fainting: call emergency help. {NO_ADVICE}"
)

#: A number uncertain by more than this share of itself is not told to a member.
MOST_UNSURE = 0.2

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
#: Said of a set whose picture trembles.
TREMBLES = (
    "Tempo and range are told less surely here: the picture is dark, grainy or unsteady. Stand the phone on "
    "something firm, in good light."
)


def three_cautions(exercise: Exercise | None) -> tuple[str, str, str]:
    """What stands where a person acts: the machine's own first, and always when to stop."""
    own = exercise.cautions[0] if exercise is not None and exercise.cautions else EXPECTED
    return own, HANDLING, STOP_ON


def acting_cautions(exercise: Exercise | None) -> tuple[str, ...]:
    """What stands with a result, page and picture alike: the three, and whose word comes before it."""
    return (*three_cautions(exercise), NO_ADVICE, LAST_WORD)


def all_cautions(exercise: Exercise | None) -> tuple[str, ...]:
    """Every caution, the machine's own first."""
    return (*(exercise.cautions if exercise is not None else ()), *CAUTIONS)


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


def for_member(value: float, uncertainty: float, unit: Unit, against: Bound = None) -> str | None:
    """A number as a member reads it, ``6 cm`` or ``0.6 seconds``; None where it would not help them.

    Left out are shares (percent, ratios), lengths without a body height, values below zero, and what is
    uncertain by more than ``MOST_UNSURE`` of itself. against: see ``quantity``.
    """
    if unit in ("%", "ratio", "trunk_fraction") or value <= 0 or uncertainty > MOST_UNSURE * value:
        return None
    return f"{value:.0f} cm" if unit == "cm" else quantity(value, unit, against)


def member_prompt(
    spec: CheckSpec,
    verdict: Verdict,
    measured: float | None,
    uncertainty: float | None,
    unit: Unit | None = None,
) -> str | None:
    """What the member is told: for a flag the check's cue, with its number where that is fit for them.

    unit: that of the measured value, where a length came out in another one than the check's.
    """
    if verdict != "flag" or spec.prompt is None or measured is None or uncertainty is None:
        return None
    said = for_member(measured, uncertainty, unit=unit or spec.unit, against=spec.limit.resolved(in_cm=True))
    return NUMBERED.sub(lambda part: part[1].replace("{value}", said) if said else "", spec.prompt)


def listed(words: Sequence[str]) -> str:
    """Words one after the other, the last after "and"."""
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1]) if part) if words else ""


def numbered(reps: Sequence[int]) -> str:
    """``repetition 4`` or ``repetitions 4, 9 and 12``, as given."""
    return f"{'repetition' if len(reps) == 1 else 'repetitions'} {listed([str(rep) for rep in reps])}"
