"""The first words of a set: its count and tempo, or why it cannot be judged, before anybody looks closely.

They are told by the survey alone, which takes a quarter of the time. The careful look has the last word.
"""

from __future__ import annotations

from dataclasses import dataclass

from shared.exercise import Motion
from shared.report import SetReport
from vision.telling.words import counted

#: With this the first words begin, so that nobody takes them for the last.
BEGIN = "First look: "


@dataclass(frozen=True)
class FirstLook:
    """count: full repetitions; lift_s, lower_s: their mean, s, all None where the clip seems unfit.

    words: what to say of it, a sentence.
    """

    count: int | None
    lift_s: float | None
    lower_s: float | None
    words: str

    @classmethod
    def of(cls, report: SetReport, motion: Motion) -> FirstLook:
        """What the report of a survey allows to say."""
        tempo = report.tempo
        if not report.quality.usable or tempo is None or tempo.lift_s is None or tempo.lower_s is None:
            why = report.quality.problems[0].text if report.quality.problems else "No repetition was seen."
            return cls(None, None, None, f"{BEGIN}{why}")
        lift, lower = tempo.lift_s.mean, tempo.lower_s.mean
        words = f"{BEGIN}{counted(report.count or 0, 'rep')}, {pace(lift, lower, motion)}."
        return cls(report.count, lift, lower, words)


def pace(lift_s: float, lower_s: float, motion: Motion) -> str:
    """Mean times of both ways in words, such as "about 2 s up and 3.5 s down"."""
    return f"about {_halves(lift_s)} s {motion.lift} and {_halves(lower_s)} s {motion.lower}"


def correction(first: FirstLook, report: SetReport) -> str:
    """What the careful look says otherwise than the first one did; empty where both agree."""
    if first.count == report.count:
        return ""
    if report.count is None:
        return f"The first look counted {first.count}; the careful look finds that the clip cannot be judged."
    if first.count is None:
        return "The first look could not judge this clip; the careful look could."
    return f"The first look counted {first.count}; the careful look counts {report.count}."


def _halves(seconds: float) -> str:
    """To the half second, which is all that a survey carries."""
    return f"{max(0.5, round(2 * seconds) / 2):g}"
