"""The limits of a contained process hold in it, inside native code too."""

from __future__ import annotations

import signal
import sys
from types import SimpleNamespace
from typing import Any

import pytest

from app.jobs.contained import CRASHED, KILLED, LIMITS, OURS, TOO_LONG, Limits, Say, _death, run_contained

resource = pytest.importorskip("resource", reason="this system sets no limits")


def _held(say: Say) -> dict[str, tuple[int, int]]:
    names = ("RLIMIT_AS", "RLIMIT_CPU", "RLIMIT_CORE")
    return {name: resource.getrlimit(getattr(resource, name)) for name in names}


@pytest.mark.skipif(sys.platform != "linux", reason="other systems know a limit and do not let it be set")
def test_memory_processor_time_and_core_files_are_limited() -> None:
    held: Any = run_contained(_held, (), lambda *_: None, Limits(wall_s=120, cpu_s=60, address_mb=9_000))
    assert held["RLIMIT_AS"] == (9_000_000_000, 9_000_000_000)
    assert held["RLIMIT_CPU"] == (60, 65) and held["RLIMIT_CORE"] == (0, 0)


@pytest.mark.parametrize(
    ("code", "said"),
    [(-signal.SIGKILL, KILLED), (-signal.SIGXCPU, TOO_LONG), (-signal.SIGALRM, TOO_LONG), (7, OURS),
     (-signal.SIGSEGV, CRASHED.format(how="SIGSEGV"))],
)  # fmt: skip
def test_a_crash_and_a_kill_are_told_apart(code: int, said: str) -> None:
    child: Any = SimpleNamespace(join=lambda seconds: None, exitcode=code)
    assert _death(child) == said


def test_a_strangers_clip_may_cost_half_an_hour_and_four_gigabytes() -> None:
    assert (LIMITS.wall_s, LIMITS.cpu_s, LIMITS.memory_mb) == (1800.0, 7200, 4000)
    assert LIMITS.memory_mb < LIMITS.address_mb <= 24_000
