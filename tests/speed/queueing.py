"""A queue of clips before workers, simulated; checked against the textbook in test_queueing.

Every worker takes the clip that has waited longest. ``python -m tests.speed.queueing 50`` prints, for 50
core-seconds a clip, the waits of a studio, a chain, a thousand studios and a large service over one week for
rising numbers of cores, and what each clip costs; ``on_a_cluster.py`` holds it against a real queue.
"""

from __future__ import annotations

import heapq
import json
import sys

import numpy as np

#: Share of a day's sets that come in each hour: an early and an evening peak. Assumed, not measured.
HOURS = np.array([0, 0, 0, 0, 0, 1, 4, 7, 6, 4, 4, 4, 5, 4, 3, 4, 6, 10, 12, 11, 8, 5, 2, 0], dtype=float)
#: Sets of one member in a week: two visits of six machines, all filmed. Assumed: the most it can be.
SETS_PER_MEMBER = 12
WEEK_S = 7 * 86_400.0
STUDIO = 150
#: Who would plan for whom: members by name.
CASES = {
    "one studio": STUDIO, "a chain of 200": 200 * STUDIO, "a thousand studios": 1000 * STUDIO,
    "a million members": 1_000_000,
}  # fmt: skip
#: Most that 95 of 100 clips should wait, in s: a trainer has three minutes between two sets.
PATIENCE_S = 180.0
#: What an hour of one core costs, in any money. Assumed: no offer was looked up.
CORE_HOUR = 0.04


def waits(arrivals_s: np.ndarray, service_s: np.ndarray, workers: int) -> np.ndarray:
    """Seconds each clip waits for a worker, (N,), first come first served; arrivals_s (N,) rises."""
    free = [0.0] * workers
    out = np.empty(len(arrivals_s))
    for i, (now, work) in enumerate(zip(arrivals_s.tolist(), service_s.tolist(), strict=True)):
        start = max(now, heapq.heappop(free))
        heapq.heappush(free, start + work)
        out[i] = start - now
    return out


def week(sets: int, rng: np.random.Generator) -> np.ndarray:
    """Arrivals of a week's sets, (sets,) s, spread over the hours of each day as ``HOURS`` says."""
    hour = rng.choice(24, size=sets, p=HOURS / HOURS.sum())
    day = rng.integers(0, 7, size=sets)
    return np.sort((day * 24 + hour) * 3600.0 + rng.uniform(0, 3600.0, size=sets))


def services(sets: int, mean_s: float, rng: np.random.Generator) -> np.ndarray:
    """Core-seconds of each clip, (sets,): as long as the set is, which varies by a quarter (1 sigma)."""
    return mean_s * rng.lognormal(-(0.25**2) / 2, 0.25, size=sets)


def table(members: int, mean_s: float, sample: int = 300_000) -> list[dict]:
    """Waits by number of cores, from just too few to enough; a large service in one of its equal parts."""
    sets = members * SETS_PER_MEMBER
    parts = max(1, -(-sets // sample))
    rng = np.random.default_rng(members)
    arrivals = week(sets // parts, rng)
    work = services(len(arrivals), mean_s, rng)
    busiest = HOURS.max() / HOURS.sum() * sets / parts / 7 * mean_s / 3600
    rows = []
    for cores in sorted({max(1, round(share * busiest)) for share in (0.5, 0.7, 0.9, 1.0, 1.1, 1.3)}):
        waited = waits(arrivals, work, cores)
        rows.append(
            {
                "cores": cores * parts,
                "of the busiest hour": round(cores / busiest, 2),
                "busy": round(float(work.sum() / (cores * WEEK_S)), 2),
                "a clip costs": round(cores * WEEK_S / 3600 * CORE_HOUR / len(arrivals), 4),
                "half wait under s": round(float(np.median(waited)), 1),
                "95 of 100 under s": round(float(np.percentile(waited, 95)), 1),
                "longest s": round(float(waited.max()), 1),
            }
        )
    return rows


def main(mean_s: float) -> None:
    """Print the tables for a mean of core-seconds a clip; a star where the wait is short enough."""
    for name, members in CASES.items():
        sets = members * SETS_PER_MEMBER
        print(f"\n{name}: {members} members, {sets} sets a week, {mean_s:.0f} core-s each")
        for row in table(members, mean_s):
            print("*" if row["95 of 100 under s"] <= PATIENCE_S else " ", json.dumps(row))


if __name__ == "__main__":
    main(float(sys.argv[1]))
