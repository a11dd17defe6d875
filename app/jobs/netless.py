"""Takes this process's way to the network and to other programs away, by whatever the system has for it."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator

#: What opens or uses sockets, starts or touches other processes, leaves the process group, or goes round
#: the filter. Threads are let through.
_REFUSED = (
    "socket", "socketpair", "connect", "bind", "listen", "accept", "accept4", "sendto", "sendmsg", "sendmmsg",
    "execve", "execveat", "fork", "vfork", "ptrace", "process_vm_readv", "process_vm_writev", "pidfd_getfd",
    "pidfd_send_signal", "tkill", "setsid", "setpgid", "io_uring_setup", "bpf", "unshare", "setns", "mount",
    "keyctl",
)  # fmt: skip
_ALLOW, _REFUSE = 0x7FFF0000, 0x00050000  # SCMP_ACT_ALLOW, SCMP_ACT_ERRNO (seccomp_rule_add(3))
_NOT_EQUAL, _MASKED = 1, 7
_PERMITTED, _UNKNOWN = 1, 38  # EPERM, ENOSYS
_THREAD, _NEW_USER, _NEW_NET = 0x10000, 0x10000000, 0x40000000  # flags of clone(2)


class _Compared(ctypes.Structure):
    """``struct scmp_arg_cmp`` of seccomp.h."""

    _fields_ = (("arg", ctypes.c_uint), ("op", ctypes.c_int), ("a", ctypes.c_uint64), ("b", ctypes.c_uint64))


def close_network() -> None:
    """Close it, before any other thread is started."""
    if sys.platform == "linux" and not _filtered():
        unshared()


def means() -> str:
    """What clips are read without on this machine, in words."""
    if has_filter():
        return "without network and other programs (seccomp)"
    if sys.platform == "linux":
        return "without network if the system gives a namespace of its own (better: install libseccomp2)"
    return "under limits of time and memory alone"


def has_filter() -> bool:
    """Whether libseccomp is here."""
    return sys.platform == "linux" and _library() is not None


def _library() -> ctypes.CDLL | None:
    try:
        lib = ctypes.CDLL("libseccomp.so.2")
        lib.seccomp_init.restype = ctypes.c_void_p
    except (OSError, AttributeError):
        return None
    return lib


def _filtered() -> bool:
    """Load a filter of system calls through libseccomp; False where there is none."""
    if (lib := _library()) is None:
        return False
    made = ctypes.c_void_p(lib.seccomp_init(ctypes.c_uint32(_ALLOW)))
    if not made:
        return False
    try:
        sound = all(_add(lib, made, name, error, only) for name, error, only in _rules())
        return bool(sound and lib.seccomp_load(made) == 0)
    finally:
        lib.seccomp_release(made)


def _rules() -> Iterator[tuple[str, int, _Compared | None]]:
    """A system call, the error it gives, and for which argument alone."""
    yield from ((name, _PERMITTED, None) for name in _REFUSED)
    yield "clone3", _UNKNOWN, None  # its flags cannot be seen: threads are then made by clone
    yield "clone", _PERMITTED, _Compared(0, _MASKED, _THREAD, 0)
    for name in ("kill", "tgkill", "prlimit64"):
        own = 0 if name == "prlimit64" else os.getpid()
        yield name, _PERMITTED, _Compared(0, _NOT_EQUAL, own, 0)


def _add(lib: ctypes.CDLL, made: ctypes.c_void_p, name: str, error: int, only: _Compared | None) -> bool:
    number = lib.seccomp_syscall_resolve_name(name.encode())
    if number == -1:  # an older library does not know it
        return True
    compared = () if only is None else (only,)
    given = (ctypes.c_uint32(_REFUSE | error), number, ctypes.c_uint(len(compared)), *compared)
    return bool(lib.seccomp_rule_add(made, *given) == 0)


def unshared() -> bool:
    """A network of its own, in which there is nothing."""
    lib = ctypes.CDLL(None, use_errno=True)
    return bool(lib.unshare(_NEW_NET) == 0 or lib.unshare(_NEW_USER | _NEW_NET) == 0)
