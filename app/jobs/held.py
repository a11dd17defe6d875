"""The limits of a process that reads strangers' clips, and how it is told to keep to them."""

from __future__ import annotations

import os
import signal
import sys
from dataclasses import dataclass

_ADDRESS_MB = 8000 + 500 * (os.cpu_count() or 1)


@dataclass(frozen=True)
class Limits:
    """What one clip may cost.

    wall_s, cpu_s: seconds of the clock and of all cores together. memory_mb: resident memory, watched
    from outside where /proc tells it. address_mb: address space, so that one absurd request fails at
    once; a check of a short clip of 480 x 854 maps 2.0 GB on two cores, and more on many: each thread maps
    its own. file_mb: the largest file that may be written. open_files: at once, of which a check has ten.
    """

    wall_s: float = 1800.0
    cpu_s: int = 7200
    memory_mb: int = 4000
    address_mb: int = _ADDRESS_MB
    file_mb: int = 2000
    open_files: int = 256


LIMITS = Limits()


def hold(limits: Limits) -> None:
    """Set this process's own limits, where the system has them; they hold inside native code too."""
    if sys.platform == "win32":
        return
    import resource

    end_in(int(limits.wall_s) + 60)  # should whoever watches be gone
    wanted = {
        resource.RLIMIT_CPU: (limits.cpu_s, limits.cpu_s + 5),
        resource.RLIMIT_AS: (limits.address_mb * 1_000_000,) * 2,
        resource.RLIMIT_FSIZE: (limits.file_mb * 1_000_000,) * 2,
        resource.RLIMIT_NOFILE: (limits.open_files,) * 2,
        resource.RLIMIT_CORE: (0, 0),
    }
    for which, (soft, hard) in wanted.items():
        most = resource.getrlimit(which)[1]
        if most != resource.RLIM_INFINITY:
            soft, hard = min(soft, most), min(hard, most)
        try:
            resource.setrlimit(which, (soft, hard))
        except (OSError, ValueError):  # some systems know a limit but do not let it be set
            continue


def end_in(seconds: int) -> None:
    """Have this process end after so many seconds, also inside native code; 0 takes it back."""
    if sys.platform != "win32":
        signal.signal(signal.SIGALRM, signal.SIG_DFL)
        signal.alarm(seconds)
