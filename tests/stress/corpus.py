"""Damaged and odd inputs, derived from the sample clips: by hand the known ones, the rest by chance."""

from __future__ import annotations

import os
import random
import socket
import string
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import av

from tests.stress.boxes import boxes, field, flipped, put, spoiled
from tests.stress.made_clips import FORMATS, base, made, matrix, with_audio_only, with_cover_only

SAMPLES = Path(__file__).parents[2] / "sample_clips"


@dataclass(frozen=True)
class Odd:
    """An input: what is odd about it, and how it is put into a folder; gives its path."""

    name: str
    make: Callable[[Path], Path]


def samples() -> list[Path]:
    """The clips that everything is derived from."""
    return sorted(SAMPLES.glob("*.mp4"))


def corpus(count: int, seed: int = 1) -> Iterator[Odd]:
    """So many inputs: all those made by hand first, as far as they go."""
    rng = random.Random(seed)
    made_by_hand = [*_no_files(), *_bytes(), *_cuts(), *_headers(), *_times(), *_names(), *_kinds()]
    for i in range(count):
        yield made_by_hand[i] if i < len(made_by_hand) else _by_chance(rng.randrange(1 << 30))


def _by_chance(seed: int) -> Odd:
    rng = random.Random(seed)
    which = rng.randrange(len(samples()))
    way, data = spoiled(base(which), rng)
    return _data(f"{way}-{seed}", data)


def _data(name: str, data: bytes, file: str = "clip.mp4") -> Odd:
    def make(folder: Path) -> Path:
        path = folder / file
        path.write_bytes(data)
        return path

    return Odd(name, make)


def _cuts() -> Iterator[Odd]:
    """Cut off at the beginning, in the middle and before the end of every box of two clips."""
    for which in (0, len(samples()) // 2):
        data = base(which)
        for number, box in enumerate(boxes(data)):
            places = {"before": box.start, "header": box.start + 5, "middle": (box.start + box.end) // 2}
            for word, at in places.items():
                yield _data(f"cut-{which}-{number}-{box.kind}-{word}", data[:at])


def _headers() -> Iterator[Odd]:
    """Headers that promise too much, too little or nonsense."""
    data = base(0)
    absurd = (0, 1, 30_000, 65_535, 1_000_000_000, 0xFFFFFFFF)
    fields = {
        "movie-timescale": ("mvhd", 12, ">I"), "movie-duration": ("mvhd", 16, ">I"),
        "track-width": ("tkhd", 76, ">I"), "track-height": ("tkhd", 80, ">I"), "track-id": ("tkhd", 12, ">I"),
        "media-timescale": ("mdhd", 12, ">I"), "media-duration": ("mdhd", 16, ">I"),
        "times": ("stts", 4, ">I"), "time-count": ("stts", 8, ">I"), "time-step": ("stts", 12, ">I"),
        "sample-size": ("stsz", 4, ">I"), "sample-count": ("stsz", 8, ">I"), "chunks": ("stco", 4, ">I"),
        "chunk-offset": ("stco", 8, ">I"), "samples-a-chunk": ("stsc", 12, ">I"),
        "descriptions": ("stsd", 4, ">I"), "edit-count": ("elst", 4, ">I"), "edit-time": ("elst", 12, ">I"),
        "edit-rate": ("elst", 16, ">I"), "coded-size": ("avc1", 24, ">I"),
    }  # fmt: skip
    kinds = {b.kind for b in boxes(data)}
    for name, (kind, offset, form) in fields.items():
        if kind in kinds:
            for value in absurd:
                yield _data(f"{name}-{value}", field(data, kind, offset, value, form))
    coded = field(data, "avc1", 24, (30_000 << 16) | 30_000)
    yield _data("30000-x-30000", field(field(coded, "tkhd", 76, 30_000 << 16), "tkhd", 80, 30_000 << 16))
    yield _data("a-billion-frames", field(field(data, "stsz", 8, 10**9), "stts", 8, 10**9))
    yield _data("encrypted-entry", data.replace(b"avc1", b"encv"))
    yield _data("unknown-codec", data.replace(b"avc1", b"zzz1"))
    for i in range(8):
        spot = next(b for b in boxes(data) if b.kind == "avcC")
        yield _data(f"codec-setup-{i}", flipped(data, 4, random.Random(i), spot))


def _times() -> Iterator[Odd]:
    """Timestamps that jump, run backwards, repeat, stand still, or make nonsense rates."""
    step = 40
    ways: dict[str, list[int]] = {
        "repeat": [step * (i // 3) for i in range(30)],
        "stand-still": [0] * 10,
        "jump-an-hour": [step * i + (3_600_000 if i > 10 else 0) for i in range(20)],
        "jump-three-hours": [step * i + (10_800_000 if i > 10 else 0) for i in range(20)],
        "one-a-minute": [60_000 * i for i in range(8)],
        "240-a-second": [round(1000 * i / 240) for i in range(240)],
        "1000-a-second": list(range(300)),
        "one-frame": [0],
        "two-frames": [0, step],
        "late-start": [86_400_000 + step * i for i in range(10)],
    }
    for word, pts in ways.items():
        yield Odd(f"time-{word}", lambda f, p=pts: made(f / "clip.mkv", times=p))
        if word != "stand-still":
            yield Odd(f"time-mp4-{word}", lambda f, p=pts: made(f / "clip.mp4", times=sorted(set(p))))
    data = base(1)
    spot = next((b for b in boxes(data) if b.kind == "ctts"), None)
    for value in (0x7FFFFFFF, 0x80000000, 0xFFFFFF00, 90_000_000):
        if spot is not None:
            yield _data(f"time-backwards-{value:x}", put(data, spot.start + 20, value))
        yield _data(f"time-step-{value:x}", field(data, "stts", 12, value))


def _no_files() -> Iterator[Odd]:
    """What is no plain file."""

    def odd(name: str, make: Callable[[Path], object]) -> Odd:
        def put_there(folder: Path) -> Path:
            path = folder / "clip.mp4"
            make(path)
            return path

        return Odd(name, put_there)

    def elsewhere(path: Path) -> None:
        (path.parent / "other.mp4").write_bytes(base(0))
        path.symlink_to(path.parent / "other.mp4")

    yield odd("missing", lambda p: None)
    yield odd("folder", lambda p: p.mkdir())
    yield odd("fifo", os.mkfifo)
    yield odd("socket", lambda p: socket.socket(socket.AF_UNIX).bind(str(p)))
    yield odd("link", elsewhere)
    yield odd("link-to-nothing", lambda p: p.symlink_to(p.parent / "gone"))
    yield odd("link-to-itself", lambda p: p.symlink_to(p))
    yield odd("link-to-a-device", lambda p: p.symlink_to("/dev/zero"))
    yield odd("link-to-a-secret", lambda p: p.symlink_to("/etc/passwd"))
    yield odd("link-to-a-folder", lambda p: p.symlink_to("/"))


def _bytes() -> Iterator[Odd]:
    """What is no video, or not only."""
    data, rng = base(0), random.Random(7)
    text = (string.ascii_letters + " \n").encode()
    yield _data("empty", b"")
    yield _data("one-byte", b"\0")
    yield _data("encrypted-looking", rng.randbytes(300_000))
    yield _data("encrypted-behind-a-header", data[:32] + rng.randbytes(100_000))
    yield _data("huge-text", text * 400_000)
    yield _data("huge-zeros", bytes(30_000_000))
    yield _data("zeros-behind-a-clip", data + bytes(5_000_000))
    yield _data("two-clips-in-one", data + base(2))
    yield _data("clip-inside-a-box", len(data + b"12345678").to_bytes(4, "big") + b"mdat" + data)
    yield _data("clip-inside-free-space", (len(data) + 8).to_bytes(4, "big") + b"free" + data + data)
    yield _data("clip-named-txt", data, "clip.txt")
    yield _data("clip-without-extension", data, "clip")
    yield _data("clip-named-jpg", data, "clip.jpg")
    for word, said in {
        "playlist": "#EXTM3U\n#EXTINF:5,\nfile:///etc/passwd\n#EXT-X-ENDLIST\n",
        "list-of-files": "ffconcat version 1.0\nfile /etc/passwd\n",
        "session": "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nm=video 5004 RTP/AVP 96\n",
        "manifest": '<?xml version="1.0"?><MPD><Period><BaseURL>file:///etc/passwd</BaseURL></Period></MPD>',
        "entities": '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><svg>&a;</svg>',
        "web-page": "<html><script>alert(1)</script></html>",
        "report": '{"schema": "plumbset.set-report/1"}',
    }.items():
        yield _data(f"text-{word}", said.encode())

    def zipped(folder: Path) -> Path:
        with zipfile.ZipFile(folder / "clip.mp4", "w") as archive:
            archive.writestr("clip.mp4", data)
        return folder / "clip.mp4"

    def unreadable(folder: Path) -> Path:
        path = _data("", data).make(folder)
        path.chmod(0)
        return path

    yield Odd("zipped", zipped)
    yield Odd("may-not-be-read", unreadable)
    yield Odd("audio-only", with_audio_only)
    yield Odd("cover-only", with_cover_only)


def _names() -> Iterator[Odd]:
    """Names that shells, pages, tables and readers trip over."""
    names = [
        "my set of tuesday.mp4", "it's \"mine\".mp4", "-rf.mp4", "--help.mp4", "\U0001f3cb️‍♀️.mp4",
        "..%2f..%2fetc%2fpasswd.mp4", "....mp4", "a\nb.mp4", "a\tb.mp4", "=1+1.mp4", "@SUM(A1).mp4",
        "<script>alert(1)</script>.mp4", "<img src=x onerror=alert(1)>.mp4", "{{7*7}}.mp4", "%s%n.mp4",
        "clip%03d.mp4", "concat:a|b.mp4", "http:x.mp4", "pipe:0", "file:clip.mp4", "‮4pm.mp4",
        "x" * 251 + ".mp4", "\u00e9\u0301\u0302.mp4", "CON.mp4", ".mp4", "[bold]x[/bold].mp4",
        "$(touch x).mp4",
        "`id`.mp4", "a;b.mp4", "a&b.mp4", "a\\b.mp4", "~.mp4", "*.mp4", "\x1b[31mred.mp4", "\x7f.mp4",
    ]  # fmt: skip
    for i, name in enumerate(names):
        yield _data(f"name-{i}", base(0), name)

    def no_text(folder: Path) -> Path:
        path = Path(os.fsdecode(os.fsencode(folder) + b"/\xff\xfe.mp4"))
        path.write_bytes(base(0))
        return path

    yield Odd("name-no-text", no_text)


def _kinds() -> Iterator[Odd]:
    """Codecs, containers, pixel formats, sizes and rotations, as far as this build can make them."""
    for file, codec, pixels, size in FORMATS:
        word = f"{codec}-{pixels}-{size[0]}x{size[1]}-{file}"
        yield Odd(word, lambda f, a=(file, codec, pixels, size): made(f / a[0], a[1], a[2], a[3]))
    for degrees in (1, 37, 45, 90, 135, 180, 270, 300):
        yield _data(f"turned-{degrees}", matrix(base(0), degrees))
    for name in ("zero", "huge", "mirror"):
        yield _data(f"turned-{name}", matrix(base(0), name))


def can_make(codec: str) -> bool:
    """Whether this build encodes a codec."""
    try:
        return av.Codec(codec, "w").type == "video"
    except ValueError:
        return False
