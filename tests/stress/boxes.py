"""The boxes of an mp4 file (ISO/IEC 14496-12), found in its bytes, and ways to spoil them."""

from __future__ import annotations

import random
import struct
from collections.abc import Iterator
from dataclasses import dataclass

_INSIDE = {b"moov": 8, b"trak": 8, b"mdia": 8, b"minf": 8, b"stbl": 8, b"edts": 8, b"dinf": 8, b"udta": 8,
           b"stsd": 16, b"avc1": 86}  # fmt: skip
#: Values that readers trip over: nothing, all ones, the largest signed, 30,000, 10^9, a negative.
ABSURD = (0, 0xFFFFFFFF, 0x7FFFFFFF, 30_000, 30_000 << 16, 1_000_000_000, 0x80000000, 1)


@dataclass(frozen=True)
class Box:
    """kind: the four letters; start, end: bytes in the file, the header included."""

    kind: str
    start: int
    end: int


def boxes(data: bytes, start: int = 0, end: int | None = None) -> Iterator[Box]:
    """All boxes between two places, outer ones first."""
    end = len(data) if end is None else end
    while start + 8 <= end:
        size, kind = struct.unpack_from(">I4s", data, start)
        stop = end if size == 0 else start + size
        if size != 0 and (size < 8 or stop > end):
            return
        yield Box(kind.decode("latin1"), start, stop)
        if kind in _INSIDE:
            yield from boxes(data, start + _INSIDE[kind], stop)
        start = stop


def only(data: bytes, kind: str) -> Box:
    """The first box of a kind."""
    return next(b for b in boxes(data) if b.kind == kind)


def put(data: bytes, at: int, value: int, form: str = ">I") -> bytes:
    """The bytes with a number written over them."""
    out = bytearray(data)
    struct.pack_into(form, out, at, value)
    return bytes(out)


def field(data: bytes, kind: str, offset: int, value: int, form: str = ">I") -> bytes:
    """A number written into a box, counted from after its eight bytes of header."""
    return put(data, only(data, kind).start + 8 + offset, value, form)


def flipped(data: bytes, bits: int, rng: random.Random, box: Box | None = None) -> bytes:
    """Some bits turned over, anywhere or in one box."""
    out = bytearray(data)
    first, last = (box.start, box.end) if box else (0, len(out))
    for _ in range(bits):
        out[rng.randrange(first, last)] ^= 1 << rng.randrange(8)
    return bytes(out)


def spoiled(data: bytes, rng: random.Random) -> tuple[str, bytes]:
    """One damage by chance, and its name: a cut, flipped bits, an absurd field, a box gone or twice."""
    found = [b for b in boxes(data) if b.end > b.start]
    box = rng.choice(found)
    way = rng.choice(("cut", "flip", "flip-here", "field", "field", "gone", "twice", "renamed", "sized"))
    if way == "cut":
        return f"cut-{box.kind}", data[: rng.randrange(box.start, box.end)]
    if way == "flip":
        return "flip", flipped(data, rng.choice((1, 4, 32, 400)), rng)
    if way == "flip-here":
        return f"flip-{box.kind}", flipped(data, rng.choice((1, 3, 12)), rng, box)
    if way == "gone":
        return f"gone-{box.kind}", data[: box.start] + data[box.end :]
    if way == "twice":
        return f"twice-{box.kind}", data[: box.end] + data[box.start :]
    if way == "renamed":
        return f"renamed-{box.kind}", data[: box.start + 4] + b"zzzz" + data[box.start + 8 :]
    if way == "sized":
        return f"sized-{box.kind}", put(data, box.start, rng.choice(ABSURD))
    at = rng.randrange(box.start + 8, max(box.start + 9, min(box.end - 4, box.start + 60)))
    return f"field-{box.kind}", put(data, min(at, len(data) - 4), rng.choice(ABSURD))
