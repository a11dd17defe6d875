"""What came of a set's second clip: used beside the first, or left out and to be replaced."""

from __future__ import annotations

from shared.report import SetReport
from vision.common.notices import tells_left_out


def left_out(report: SetReport | None) -> bool:
    """Whether the second clip of a set was looked at and could not be used."""
    return report is not None and any(tells_left_out(note) for note in report.quality.notes)


def replaceable(report: SetReport | None, message: str) -> bool:
    """Whether another clip may take the second one's place. message: why its last check gave no report."""
    return bool(message) or left_out(report)
