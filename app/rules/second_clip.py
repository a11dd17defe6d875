"""What came of a set's second clip: used beside the first, or left out and to be replaced."""

from __future__ import annotations

from shared.report import SetReport

#: Between the name of a clip and why: as a report's notes say it.
_LEFT_OUT = " was left out: "


def left_out(report: SetReport | None) -> bool:
    """Whether the second clip of a set was looked at and could not be used."""
    return report is not None and any(_LEFT_OUT in note for note in report.quality.notes)


def replaceable(report: SetReport | None, message: str) -> bool:
    """Whether another clip may take the second one's place. message: why its last check gave no report."""
    return bool(message) or left_out(report)
