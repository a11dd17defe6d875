"""Small disks of the tests' own, that can be full or not be written to; root's rights do not help there."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest


@dataclass(frozen=True)
class Disk:
    """A mounted disk in memory."""

    folder: Path

    def fill(self) -> Path:
        """Take all that is left; removing the file gives it back."""
        filler = self.folder / "filler"
        with filler.open("wb", buffering=0) as out:
            for size in (1 << 16, 1 << 12, 1):
                try:
                    while True:
                        out.write(bytes(size))
                except OSError:
                    continue
        return filler

    def read_only(self, wanted: bool = True) -> None:
        """Allow no writing, or again."""
        _run("mount", "-o", f"remount,{'ro' if wanted else 'rw'}", str(self.folder))


def _run(*command: str) -> None:
    subprocess.run(command, check=True, capture_output=True)


@contextmanager
def mounted(folder: Path, kilobytes: int) -> Iterator[Disk]:
    """A disk of that size at a folder; skips the test where none may be mounted."""
    if sys.platform != "linux" or os.getuid() != 0:
        pytest.skip("only root on Linux may mount a disk of its own")
    folder.mkdir()
    try:
        _run("mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", str(folder))
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("this system lets nobody mount a disk of their own")
    try:
        yield Disk(folder)
    finally:
        _run("umount", "-l", str(folder))
