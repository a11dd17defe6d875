"""A PostgreSQL server of the tests' own, thrown away afterwards."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path


def postgres_bin() -> Path | None:
    """Where the server's programs are, None where there is no PostgreSQL."""
    found = shutil.which("initdb")
    places = [Path(found).resolve().parent] if found else []
    places += sorted(Path("/usr/lib/postgresql").glob("*/bin"), reverse=True)
    return next((p for p in places if (p / "pg_ctl").exists()), None)


@dataclass(frozen=True)
class Server:
    """base: the URL with NAME for the database; restart: stop it as a power cut would, and start it."""

    base: str
    restart: Callable[[], None]


@contextmanager
def server(tools: Path, sync: bool = False) -> Iterator[Server]:
    """A running server; ``sync``: what it acknowledged is on the disk, as in earnest."""
    user = "postgres" if os.getuid() == 0 else None
    folder = Path(tempfile.mkdtemp(prefix="pg"))
    if user:
        shutil.chown(folder, user)

    def run(*command: str | Path) -> None:
        subprocess.run([str(c) for c in command], check=True, capture_output=True, user=user, cwd=folder)

    data = folder / "d"
    options = f"-k {folder} -c listen_addresses='' -c fsync={'on' if sync else 'off'}"
    start = (tools / "pg_ctl", "-D", data, "-w", "-l", folder / "log", "-o", options, "start")
    stop = (tools / "pg_ctl", "-D", data, "-m", "immediate", "stop")

    def restart() -> None:
        run(*stop)
        run(*start)

    run(tools / "initdb", "-D", data, "-U", "plumbset", "-A", "trust", "-E", "UTF8", "--no-sync")
    run(*start)
    try:
        yield Server(f"postgresql+psycopg://plumbset@/NAME?host={folder}", restart)
    finally:
        run(*stop)
        shutil.rmtree(folder)
