"""The limits of a contained process hold in it, inside native code too."""

from __future__ import annotations

import os
import signal
import sys
from typing import Any

import pytest

from app.jobs.contained import CRASHED, KILLED, OURS, TOO_LONG, Say, _death, run_contained
from app.jobs.held import LIMITS, Limits

resource = pytest.importorskip("resource", reason="this system sets no limits")


def _held(say: Say) -> dict[str, tuple[int, int]]:
    names = ("RLIMIT_AS", "RLIMIT_CPU", "RLIMIT_CORE", "RLIMIT_FSIZE", "RLIMIT_NOFILE")
    return {name: resource.getrlimit(getattr(resource, name)) for name in names}


@pytest.mark.skipif(sys.platform != "linux", reason="other systems know a limit and do not let it be set")
def test_memory_processor_time_and_core_files_are_limited() -> None:
    limits = Limits(wall_s=120, cpu_s=60, address_mb=9_000)
    held: Any = run_contained(_held, (), lambda *_: None, dict[str, tuple[int, int]], limits)
    assert held["RLIMIT_AS"] == (9_000_000_000, 9_000_000_000)
    assert held["RLIMIT_CPU"] == (60, 65) and held["RLIMIT_CORE"] == (0, 0)
    assert held["RLIMIT_FSIZE"] == (2_000_000_000, 2_000_000_000) and held["RLIMIT_NOFILE"] == (256, 256)


@pytest.mark.parametrize(
    ("code", "said"),
    [(-signal.SIGKILL, KILLED), (-signal.SIGXCPU, TOO_LONG), (-signal.SIGALRM, TOO_LONG), (7, OURS),
     (-signal.SIGSEGV, CRASHED.format(how="SIGSEGV"))],
)  # fmt: skip
def test_a_crash_and_a_kill_are_told_apart(code: int, said: str) -> None:
    assert _death(code) == said


def test_a_strangers_clip_may_cost_half_an_hour_and_four_gigabytes() -> None:
    assert (LIMITS.wall_s, LIMITS.cpu_s, LIMITS.memory_mb) == (1800.0, 7200, 4000)
    assert 2 * LIMITS.memory_mb < LIMITS.address_mb == 8000 + 500 * (os.cpu_count() or 1)
