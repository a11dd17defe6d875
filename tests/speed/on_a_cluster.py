"""The simulated queue against a real one: ``python -m tests.speed.on_a_cluster``. Measures, is no test.

The same clips come at the same moments to a Dask cluster of four local workers, a hundred times as fast. A
task waits as long as its clip would be worked on, so that two cores can play four workers.
"""

from __future__ import annotations

import tempfile
import threading
import time
from pathlib import Path

import numpy as np

from app.jobs.pools import cluster_pool
from tests.cluster import cluster_of
from tests.speed.queueing import services, waits

WORKERS, CLIPS, MEAN_S, FASTER = 4, 400, 60.0, 100.0
BUSY = (0.6, 0.8, 0.95)


def work(seconds: float) -> float:
    """Stand in for a check that takes so long; when it was begun, in s since the epoch."""
    begun = time.time()
    threading.Event().wait(seconds)
    return begun


def waited(arrivals_s: np.ndarray, service_s: np.ndarray, address: str) -> np.ndarray:
    """Seconds each clip waited on the cluster, (N,), as long as they would be at full length."""
    with cluster_pool(address) as pool:
        [f.result() for f in [pool.submit(work, 0.01) for _ in range(4 * WORKERS)]]  # all are awake
        start, tasks, given = time.time() + 0.5, [], []
        for arrival, service in zip(arrivals_s, service_s, strict=True):
            threading.Event().wait(max(0.0, start + arrival / FASTER - time.time()))
            given.append(time.time())
            tasks.append(pool.submit(work, service / FASTER))
        begun = np.array([task.result() for task in tasks])
    return np.maximum(0.0, begun - np.array(given)) * FASTER


def main() -> None:
    """Print the waits of both queues, in s, the middle one and the one of 95 in 100."""
    rng = np.random.default_rng(7)
    with tempfile.TemporaryDirectory() as folder, cluster_of(WORKERS, Path(folder)) as address:
        for busy in BUSY:
            arrivals = np.cumsum(rng.exponential(MEAN_S / (busy * WORKERS), CLIPS))
            service = services(CLIPS, MEAN_S, rng)
            rows = {
                "simulated": waits(arrivals, service, WORKERS),
                "cluster": waited(arrivals, service, address),
            }
            told = {
                k: f"{np.median(v):.0f}, 95 of 100 under {np.percentile(v, 95):.0f}" for k, v in rows.items()
            }
            print(f"busy {busy:.0%}: {told}", flush=True)


if __name__ == "__main__":
    main()
