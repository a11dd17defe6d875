"""Short words for values of the store, the same on every page."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from functools import lru_cache

from app.rules.states import PAIN_ALONE, Feeling, SetStatus
from shared.errors import PlumbsetError
from shared.exercise import Exercise, Motion, Setting, Tempo, exercise_names, find_exercise

FEELINGS: Mapping[Feeling, str] = {
    "easy": "Easy", "right": "About right", "hard": "Hard", "could-not-finish": "Could not finish",
}  # fmt: skip
CARD_WORDS: Mapping[Setting, str] = {
    "seat": "Seat", "back_pad": "Back pad", "lever_pin": "Lever pin", "start_position": "Start position",
    "thigh_pad": "Thigh pad", "grip": "Grip", "foot_support": "Foot support",
}  # fmt: skip
MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
_DAYS = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]


@lru_cache
def exercise_of(name: str) -> Exercise | None:
    """The machine by its name, None when this version does not know it."""
    try:
        return find_exercise(name)
    except PlumbsetError:
        return None


def title_of(name: str) -> str:
    """``Leg extension`` for ``leg-extension``."""
    if not name:
        return "No machine named"
    known = exercise_of(name) if name in exercise_names() else None
    return known.title if known else name


def name_key(name: str) -> str:
    """A person's name as it is compared: ``wenna b`` for ``Wenna  B``."""
    return " ".join(name.split()).casefold()


def set_title(exercise: str, status: SetStatus) -> str:
    """What a set is called; ``Pain told, leg extension`` where pain alone was told."""
    if status != PAIN_ALONE:
        return title_of(exercise)
    return f"Pain told, {title_of(exercise).lower()}" if exercise else "Pain told"


def side_words(view: str | None) -> str:
    """Which side of the person a clip shows, in a sentence; empty where it is filmed from no side."""
    side = {"side-left": "left", "side-right": "right"}.get(view or "")
    return f"The clip shows the {side} side." if side else ""


def day_words(day: date, today: date) -> str:
    """``today``, ``yesterday``, ``Mon 2 March``, with the year where it is another one."""
    if (today - day).days in (0, 1):
        return ("today", "yesterday")[(today - day).days]
    return f"{_DAYS[day.weekday()]} {date_words(day, today)}"


def date_words(day: date, today: date) -> str:
    """``3 October``, with the year where it is another one."""
    return f"{day.day} {MONTHS[day.month - 1]}{f' {day.year}' if day.year != today.year else ''}"


def ago(moment: datetime, now: datetime) -> str:
    """``just now``, ``12 min ago``, ``3 h ago``, ``4 days ago``."""
    minutes = max(0, int((now - moment).total_seconds() // 60))
    if minutes < 2:
        return "just now"
    if minutes < 60:
        return f"{minutes} min ago"
    if minutes < 48 * 60:
        return f"{minutes // 60} h ago"
    return f"{minutes // (24 * 60)} days ago"


def load_words(load: float | None, unit: str) -> str:
    """``30 kg``, ``pin 3 with the add-on weight`` for 3.5; ``load not told`` where it is not known."""
    if load is None:
        return "load not told"
    if unit not in ("pin", "plates"):
        return f"{load:g} {unit}"
    whole = int(load)
    words = f"pin {whole}" if unit == "pin" else f"{whole} plate{'' if whole == 1 else 's'}"
    return words if load == whole else f"{words} with the add-on weight"


def tempo_words(tempo: Tempo, exercise: Exercise | None) -> str:
    """``2 seconds up, 3 seconds down``, in the machine's own words for both ways."""
    motion = exercise.motion if exercise else Motion()
    ways = ((tempo.lift_s, motion.lift), (tempo.lower_s, motion.lower))
    return ", ".join(f"{s:g} second{'' if s == 1 else 's'} {way}" for s, way in ways)
