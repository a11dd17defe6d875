"""A real Dask cluster on loopback."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

ROOT = Path(__file__).parents[1]
PATIENCE_S = 300


@contextmanager
def cluster_of(workers: int, folder: Path) -> Iterator[str]:
    """The address of a scheduler with so many workers, each kept by a process that starts it again.

    folder: where workers keep what they need.
    """
    from distributed import Client

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    scheduler = ("distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", str(port))
    worker = ("distributed.cli.dask_worker", address, "--nthreads", "1", "--no-dashboard")
    worker = (*worker, "--host", "127.0.0.1", "--local-directory", str(folder))
    with ExitStack() as running:
        running.enter_context(_running(*scheduler, "--no-dashboard"))
        for _ in range(workers):
            running.enter_context(_running(*worker))
        with Client(address, timeout=PATIENCE_S, set_as_default=False) as client:
            client.wait_for_workers(workers, timeout=PATIENCE_S)
        yield address


@contextmanager
def _running(*arguments: str) -> Iterator[None]:
    command = [sys.executable, "-m", *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONWARNINGS": "ignore"}
    running = subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        yield
    finally:
        running.terminate()
        running.wait()
