"""The one-repetition maximum as published formulas estimate it: told with its doubts, never to be tried."""

from __future__ import annotations

#: Percent of the one-repetition maximum by repetitions: NSCA, Essentials, from memory. Above 12 repetitions
#: tables and formulas part ways, so nothing is told there.
NSCA_PERCENT = {1: 100, 5: 87, 8: 80, 10: 75, 12: 67}
MOST_REPS = max(NSCA_PERCENT)
ESTIMATES_NOTE = (
    "Estimates, not measurements, and none above 12 repetitions: at 80 % of the maximum people have managed "
    "from 5 to 20 repetitions, and a set that stopped early reads too low. Nobody is to try a maximum "
    "because of them."
)


def epley(load: float, repetitions: int) -> float:
    """One-repetition maximum after Epley, w (1 + r / 30); a single repetition is its own maximum."""
    return load if repetitions <= 1 else load * (1.0 + repetitions / 30.0)


def brzycki(load: float, repetitions: int) -> float:
    """One-repetition maximum after Brzycki, 36 w / (37 - r), for up to 36 repetitions."""
    return 36.0 * load / (37.0 - repetitions)


def percent_table() -> list[tuple[int, int, float, float]]:
    """(repetitions, NSCA %, Epley %, Brzycki %) of the one-repetition maximum; all are estimates."""
    return [(n, nsca, 100.0 / epley(1.0, n), 100.0 / brzycki(1.0, n)) for n, nsca in NSCA_PERCENT.items()]
