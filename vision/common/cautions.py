"""The standing cautions of every report and page."""

from __future__ import annotations

from shared.exercise import Exercise

#: Stands once on a page, in its cautions; never behind a prompt.
LAST_WORD = "Your trainer has the last word."

STOP_ON = (
    "Stop on sharp or joint pain, chest pain or pressure, dizziness, numbness or unusual breathlessness: "
    "set the weight down if you safely can, and tell the trainer. "
    "Chest pain or pressure, or fainting: call for emergency help."
)
EXPECTED = "Tired or burning muscles are normal. Sharp or joint pain is not."
#: Common practice, no published source.
HANDLING = "Pin fully in; fingers and hair clear of the stack; phone out of walkways."
NO_ADVICE = "This is not medical advice. Your trainer, licensed clinicians and local rules come first."

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
    f"and tell the trainer. Chest pain or pressure, or fainting: call for emergency help. {NO_ADVICE}"
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
