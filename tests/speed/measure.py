"""Wall time, processor time and memory of a command and of all it starts."""

from __future__ import annotations

import os
import resource
import subprocess
import time
from dataclasses import dataclass
from math import isnan
from pathlib import Path

import psutil

#: How often memory is read, in s: reading it costs a few ms for each process.
EVERY_S = 0.25


@dataclass(frozen=True)
class Cost:
    """wall_s, cpu_s: seconds; pss_mb: highest proportional set size of the process tree, NaN unread.

    words_s: when the command said what was waited for, NaN never.
    """

    wall_s: float
    cpu_s: float
    pss_mb: float = float("nan")
    words_s: float = float("nan")


def run(
    command: list[str], memory: bool = False, expect: tuple[int, ...] = (0,), words: str | None = None
) -> Cost:
    """Run a command to its end. words: what is waited for in what it says.

    Raises
    ------
    RuntimeError : it ended with an exit code that was not expected.
    """
    before, start, most = _cpu_s(), time.perf_counter(), float("nan")
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    if memory:
        most = _most_pss(process)
    said, heard = [], float("nan")
    for line in process.stdout or ():
        said.append(line)
        if words is not None and words in line and isnan(heard):
            heard = time.perf_counter() - start
    process.wait()
    wall = time.perf_counter() - start
    if process.returncode not in expect:
        raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}:\n{''.join(said)[-2000:]}")
    return Cost(wall, _cpu_s() - before, most, heard)


def _cpu_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _most_pss(process: subprocess.Popen[str]) -> float:
    top, most = psutil.Process(process.pid), 0.0
    while True:
        try:
            process.wait(EVERY_S)
            return most
        except subprocess.TimeoutExpired:
            most = max(most, _pss_mb(top))


def _pss_mb(top: psutil.Process) -> float:
    total = 0
    try:
        tree = [top, *top.children(recursive=True)]
    except psutil.NoSuchProcess:
        return 0.0
    for one in tree:
        try:
            total += one.memory_full_info().pss
        except (psutil.NoSuchProcess, psutil.AccessDenied):
            continue
    return total / 1e6


def machine() -> str:
    """What was measured on, in one line."""
    lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    names = (line.split(":")[1].strip() for line in lines if line.startswith("model name"))
    model = next(names, "unknown processor")
    memory = psutil.virtual_memory().total / 2**30
    return f"{os.cpu_count()} cores of {model}, {memory:.0f} GiB"
