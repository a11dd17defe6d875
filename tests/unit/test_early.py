"""A clip is read while it comes where its container allows it, one at a time, and then forgotten."""

from __future__ import annotations

import queue
import threading
from pathlib import Path
from typing import Any

import av
import pytest

from app.jobs.early import READER, EarlyReader, Here, reads_in_order
from shared.errors import InputError, InternalError
from tests.samples import clip_of
from vision.seeing.clip import open_clip

SOON_S = 20.0
#: How a WebM begins; enough to be read as it comes.
WEBM = b"\x1a\x45\xdf\xa3" + bytes(20)
DARK = ["The picture is too dark."]
WORDS = "First look: 10 reps, about 2 s up and 2 s down."


def _written(path: Path, **options: str) -> bytes:
    """The bytes of a sample clip, written into another container."""
    with av.open(str(clip_of("leg-curl-clean"))) as clip, av.open(str(path), "w", options=options) as out:
        stream = out.add_stream_from_template(clip.streams.video[0])
        for packet in clip.demux(video=0):
            if packet.dts is not None:
                packet.stream = stream
                out.mux(packet)
    return path.read_bytes()


@pytest.mark.parametrize(
    ("name", "options", "readable"),
    [
        ("set.mp4", {"movflags": "faststart"}, True),
        ("set.mp4", {"movflags": "frag_keyframe+empty_moov+default_base_moof"}, True),
        ("set.mkv", {"live": "1"}, True),
        ("set.mp4", {}, False),
    ],
)
def test_a_third_of_a_clip_is_read_where_its_index_does_not_come_last(
    tmp_path: Path, name: str, options: dict[str, str], readable: bool
) -> None:
    path = tmp_path / name
    data = _written(path, **options)
    whole = open_clip(path)
    path.write_bytes(data[: len(data) // 3])
    assert reads_in_order(path) is readable
    if readable:
        here = open_clip(path, coming=True)
        assert 0.15 < here.clip.duration_s / whole.clip.duration_s < 0.5
        last_s = here.clip.duration_s - 1.0
        frames = list(here.frames(last_s - 2.0, last_s, 0.2))
        same = list(whole_frames(data, path, last_s))
        assert [(f.index, f.time_s) for f in frames] == [(f.index, f.time_s) for f in same]
        assert all((f.image == g.image).all() for f, g in zip(frames, same, strict=True))


def whole_frames(data: bytes, path: Path, last_s: float) -> Any:
    """The same moments of the whole clip."""
    whole = path.with_stem("whole")
    whole.write_bytes(data)
    return open_clip(whole).frames(last_s - 2.0, last_s, 0.2)


@pytest.mark.parametrize("data", [b"", b"clip", bytes(40), b"\0\0\0\x02mdat" + bytes(30), WEBM[:8]])
def test_what_is_no_clip_yet_is_not_read(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "clip"
    path.write_bytes(data)
    assert not reads_in_order(path)


class Child:
    """A process that answers what it is told to, when it is told to."""

    def __init__(self) -> None:
        self.asked: queue.Queue[tuple[str, tuple[Any, ...]]] = queue.Queue()
        self.answers: queue.Queue[Any] = queue.Queue()
        self.over = threading.Event()
        self.starts = 0

    def __call__(self) -> Child:
        self.starts += 1
        return self

    def __enter__(self) -> Child:
        return self

    def __exit__(self, *_: object) -> None:
        self.over.set()

    def ask(self, function: Any, arguments: tuple[Any, ...], *_: object) -> Any:
        self.asked.put((function.__name__, arguments))
        answer = self.answers.get(timeout=SOON_S)
        if isinstance(answer, Exception):
            raise answer
        return answer


@pytest.fixture
def child() -> Child:
    return Child()


@pytest.fixture
def reader(child: Child) -> EarlyReader:
    start: Any = child
    return EarlyReader(start)


@pytest.fixture
def clip(tmp_path: Path) -> Path:
    path = tmp_path / "clip"
    path.write_bytes(WEBM)
    return path


def test_what_stands_against_a_clip_is_told_with_its_next_piece_and_its_words_with_its_end(
    reader: EarlyReader, child: Child, clip: Path, tmp_path: Path
) -> None:
    assert reader.came("a", "leg-curl", Here(clip, 0.6)) == ()
    assert child.asked.get(timeout=SOON_S) == ("read_on", ("leg-curl", clip, 0.6))
    child.answers.put(DARK)
    reader.came("a", "leg-curl", Here(clip, 0.7))
    child.asked.get(timeout=SOON_S)
    assert reader.came("a", "leg-curl", Here(clip, 0.8)) == DARK
    kept = tmp_path / "kept"
    reader.whole("a", Here(kept, 1.0, 7))
    child.answers.put(InputError("clip is not there; check the name of the clip."))  # it has moved meanwhile
    assert child.asked.get(timeout=SOON_S) == ("first_words", ("leg-curl", kept))
    assert reader.first_words(7) == ""
    child.answers.put(WORDS)
    assert child.over.wait(SOON_S)
    assert reader.first_words(7) == WORDS


def test_one_clip_is_read_at_a_time_and_one_that_cannot_be_costs_no_process(
    reader: EarlyReader, child: Child, clip: Path, tmp_path: Path
) -> None:
    late = tmp_path / "late"
    late.write_bytes(b"\0\0\0\x20ftypisom" + bytes(20) + b"\0\0\0\x08mdat" + bytes(20))
    assert reader.came("late", "leg-curl", Here(late, 0.5)) == () and child.starts == 0
    reader.came("a", "leg-curl", Here(clip, 0.5))
    child.asked.get(timeout=SOON_S)
    assert reader.came("b", "leg-curl", Here(clip, 0.5)) == () and child.starts == 1
    reader.whole("b", Here(clip, 1.0, 8))
    assert child.asked.empty()
    child.answers.put([])
    reader.whole("a", Here(clip, 1.0, 7))
    child.asked.get(timeout=SOON_S)
    child.answers.put("")
    assert child.over.wait(SOON_S)


def _reading_ends() -> None:
    for thread in threading.enumerate():
        if thread.name == READER:
            thread.join(SOON_S)


def test_a_clip_whose_process_died_is_left_to_its_check(
    reader: EarlyReader, child: Child, clip: Path
) -> None:
    reader.came("a", "leg-curl", Here(clip, 0.5))
    child.answers.put(InternalError("This clip made the program that reads it crash."))
    _reading_ends()
    assert reader.came("a", "leg-curl", Here(clip, 0.6)) == () and child.starts == 1
    reader.came("b", "leg-curl", Here(clip, 0.5))
    assert child.starts == 2
    child.answers.put(InternalError("ended"))
    _reading_ends()


def test_a_clip_that_nobody_goes_on_with_makes_room_for_another(
    child: Child, clip: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.jobs.early.IDLE_S", 0.0)
    start: Any = child
    reader = EarlyReader(start)
    reader.came("a", "leg-curl", Here(clip, 0.5))
    child.answers.put(DARK)
    assert child.over.wait(SOON_S), "nobody went on with it"
    _reading_ends()
    reader.came("b", "leg-curl", Here(clip, 0.5))
    assert child.starts == 2
    child.answers.put([])
    _reading_ends()
