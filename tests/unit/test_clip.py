"""Clips are made on the fly, tiny, with a known grey value (or timestamp) in every picture."""

from __future__ import annotations

import os
import struct
import tracemalloc
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from av.video.reformatter import ColorPrimaries, ColorTrc
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shared.errors import ClipError
from vision.seeing import container
from vision.seeing.clip import open_clip
from vision.seeing.container import pictures

Encoder = Callable[..., Path]
MS = Fraction(1, 1000)


def picture(value: int, width: int = 64, height: int = 48) -> np.ndarray:
    return np.full((height, width, 3), value, np.uint8)


def encode(
    path: Path, images: list[np.ndarray], pts: list[int] | None = None, codec: str = "libx264", **options: Any
) -> Path:
    """One stream of images; pts in ms, 40 ms apart where not given; options go to the encoder."""
    with av.open(str(path), "w", options=options.pop("container", {})) as out:
        stream = out.add_stream(codec, rate=1000, options={"crf": "4", **options})
        stream.width, stream.height = images[0].shape[1], images[0].shape[0]
        stream.pix_fmt = "yuv420p"
        stream.codec_context.time_base = MS
        for i, image in enumerate(images):
            frame = av.VideoFrame.from_ndarray(image, format="rgb24")
            frame.pts, frame.time_base = (40 * i if pts is None else pts[i]), MS
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


def ramp(count: int) -> list[np.ndarray]:
    return [picture(20 + 200 * i // count) for i in range(count)]


def turn_matrix(path: Path, degrees_clockwise: int) -> None:
    """Write a rotation into the nine integers of the video track's tkhd matrix."""
    cos, sin = {0: (1, 0), 90: (0, 1), 180: (-1, 0), 270: (0, -1)}[degrees_clockwise]
    data = bytearray(path.read_bytes())
    at = data.index(b"tkhd") + 4 + 40
    one = 1 << 16
    data[at : at + 36] = struct.pack(">9i", cos * one, sin * one, 0, -sin * one, cos * one, 0, 0, 0, 1 << 30)
    path.write_bytes(data)


def test_times_are_the_containers_not_index_over_rate(tmp_path: Path) -> None:
    pts = [0, 33, 67, 180, 190, 450, 451]
    source = open_clip(encode(tmp_path / "vfr.mp4", ramp(7), pts))
    frames = list(source.frames())
    assert [f.time_s for f in frames] == [p / 1000 for p in pts]
    assert [f.index for f in frames] == list(range(7))
    assert source.clip.frames == 7
    assert source.clip.fps_mean == pytest.approx(6 / 0.451)
    assert source.clip.duration_s >= 0.451
    assert source.notes == ()


def test_b_frames_come_in_presentation_order(tmp_path: Path) -> None:
    path = encode(tmp_path / "b.mp4", ramp(20), bf="3", b_strategy="0", preset="medium")
    with av.open(str(path)) as container:
        stored = [p.pts for p in container.demux(video=0) if p.pts is not None]
    assert stored != sorted(stored), "the clip must hold pictures out of order for this test"
    values = [int(f.image[0, 0, 0]) for f in open_clip(path).frames()]
    assert values == sorted(values)
    assert len(values) == 20


def test_time_counts_from_the_first_picture(tmp_path: Path) -> None:
    for name in ("late.mp4", "late.mkv", "late.ts"):
        path = encode(tmp_path / name, ramp(5), [5000, 5040, 5080, 5200, 5210])
        times = [f.time_s for f in open_clip(path).frames()]
        np.testing.assert_allclose(times, [0, 0.04, 0.08, 0.2, 0.21], atol=1e-9, err_msg=name)


@pytest.mark.parametrize(("turn", "stored_k"), [(0, 0), (90, 1), (180, 2), (270, 3)])
def test_the_display_matrix_makes_the_picture_upright(tmp_path: Path, turn: int, stored_k: int) -> None:
    upright = picture(30, width=96, height=48)
    upright[:16, :32] = 220
    stored = np.ascontiguousarray(np.rot90(upright, stored_k))
    path = encode(tmp_path / "turned.mp4", [stored] * 3)
    turn_matrix(path, turn)
    source = open_clip(path)
    image = next(iter(source.frames())).image
    assert source.clip.rotation_deg == turn
    assert (source.clip.width, source.clip.height) == (96, 48)
    np.testing.assert_allclose(image.astype(int), upright.astype(int), atol=12)
    assert image.flags["C_CONTIGUOUS"]


def test_a_width_that_needs_padding_gives_a_plain_array(tmp_path: Path) -> None:
    path = encode(tmp_path / "odd.mp4", [picture(90, width=540, height=96)] * 3)
    image = next(iter(open_clip(path).frames())).image
    assert image.shape == (96, 540, 3)
    assert image.flags["C_CONTIGUOUS"]
    assert image.strides == (540 * 3, 3, 1)
    assert np.ptp(image) <= 2


@pytest.mark.parametrize("step", [0.1, 0.19, 0.3])
@pytest.mark.parametrize("gray_step", [0.01, 1 / 31, 0.07])
def test_grey_pictures_come_among_the_coloured_ones_in_one_reading(
    tmp_path: Path, step: float, gray_step: float
) -> None:
    levels = [20 + 3 * i for i in range(60)]
    source = open_clip(encode(tmp_path / "both.mp4", [picture(level) for level in levels]))
    both = list(source.with_gray(0.2, 2.0, step, gray_step))
    coloured = [frame for frame in both if frame.image.ndim == 3]
    gray = [frame for frame in both if frame.image.ndim == 2]
    assert [f.index for f in coloured] == [f.index for f in source.frames(0.2, 2.0, step)]
    for frame in coloured:
        before = both[next(i for i, one in enumerate(both) if one is frame) - 1]
        assert before.index == frame.index and before.image.ndim == 2
    between = np.diff([frame.time_s for frame in gray])
    assert between.min() > 0 and between.max() < max(gray_step, 0.04) + 0.0401
    for frame in gray:
        (alone,) = source.frames(frame.time_s, frame.time_s, gray=True)
        np.testing.assert_array_equal(frame.image, alone.image)


@pytest.mark.parametrize("pix_fmt", ["yuv420p", "yuvj420p", "yuv420p10le"])
@pytest.mark.parametrize("aspect", [Fraction(1), Fraction(4, 3)])
@pytest.mark.parametrize("turn", [0, 90])
def test_grey_pictures_are_the_coloured_ones_without_their_colours(
    tmp_path: Path, turn: int, aspect: Fraction, pix_fmt: str
) -> None:
    path, image = tmp_path / "grey.mp4", picture(30, width=540, height=96)
    image[:40, :200], image[50:, 300:] = (220, 180, 90), (60, 130, 200)
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=25, options={"crf": "4"})
        stream.width, stream.height, stream.pix_fmt = 540, 96, pix_fmt
        stream.codec_context.sample_aspect_ratio = aspect
        for _ in range(3):
            out.mux(stream.encode(av.VideoFrame.from_ndarray(image, format="rgb24")))
        out.mux(stream.encode(None))
    turn_matrix(path, turn)
    source = open_clip(path)
    (coloured, *_), (gray, *_) = (list(source.frames(gray=wanted)) for wanted in (False, True))
    assert gray.image.shape == coloured.image.shape[:2] and gray.image.dtype == np.uint8
    assert gray.image.flags["C_CONTIGUOUS"]
    luma = coloured.image @ np.array([0.2126, 0.7152, 0.0722])  # BT.709
    assert np.corrcoef(gray.image.ravel(), luma.ravel())[0, 1] > 0.99


def test_pixels_become_square(tmp_path: Path) -> None:
    path = tmp_path / "wide.mkv"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx264", rate=25)
        stream.width, stream.height, stream.pix_fmt = 48, 48, "yuv420p"
        stream.codec_context.sample_aspect_ratio = Fraction(4, 3)
        for _ in range(3):
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture(9, 48, 48), format="rgb24")))
        out.mux(stream.encode(None))
    source = open_clip(path)
    assert (source.clip.width, source.clip.height) == (64, 48)
    assert next(iter(source.frames())).image.shape == (48, 64, 3)


def pq(nits: float) -> float:
    """SMPTE ST 2084 code value in 0..1 of a luminance in cd/m2."""
    p = (nits / 10000) ** 0.1593017578125
    return float(((0.8359375 + 18.8515625 * p) / (1 + 18.6875 * p)) ** 78.84375)


def encode_hdr(path: Path, codes: list[float], transfer: ColorTrc) -> Path:
    """Grey bars with the given code values, 10-bit HEVC tagged BT.2020."""
    name = {ColorTrc.SMPTE2084: "smpte2084", ColorTrc.ARIB_STD_B67: "arib-std-b67"}[transfer]
    bars = np.repeat([round(64 + 876 * c) for c in codes], 32).astype(np.uint16)
    planes = [np.tile(bars, (64, 1)), *[np.full((32, len(bars) // 2), 512, np.uint16)] * 2]
    with av.open(str(path), "w") as out:
        params = f"log-level=error:crf=4:colorprim=bt2020:transfer={name}:colormatrix=bt2020nc:range=limited"
        stream = out.add_stream("libx265", rate=25, options={"x265-params": params})
        stream.width, stream.height, stream.pix_fmt = len(bars), 64, "yuv420p10le"
        for _ in range(3):
            frame = av.VideoFrame(len(bars), 64, "yuv420p10le")
            for plane, values in zip(frame.planes, planes, strict=True):
                padded = np.zeros((plane.height, plane.line_size // 2), np.uint16)
                padded[:, : values.shape[1]] = values
                plane.update(padded.tobytes())
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    return path


@pytest.mark.parametrize(
    ("codes", "transfer"),
    [
        ([pq(2), pq(36.5), pq(203)], ColorTrc.SMPTE2084),
        ([0.0, 0.38, 0.75], ColorTrc.ARIB_STD_B67),
    ],
    ids=["pq", "hlg"],
)
def test_hdr_has_black_grey_and_white_where_they_belong(
    tmp_path: Path, codes: list[float], transfer: ColorTrc
) -> None:
    """18 % grey is near 110 in BT.709, diffuse white near 255; read flat, white would be 146 or 190."""
    source = open_clip(encode_hdr(tmp_path / "hdr.mov", codes, transfer))
    image = next(iter(source.frames())).image
    assert image.dtype == np.uint8
    black, grey, white = (int(image[32, x].mean()) for x in (16, 48, 80))
    assert black < 45
    assert 95 <= grey <= 130
    assert white >= 245
    assert np.ptp(image[32, 48].astype(int)) <= 4, "grey stays grey"
    assert source.clip.codec == "hevc"


def test_ten_bit_without_hdr_keeps_its_greys(tmp_path: Path) -> None:
    path = tmp_path / "ten.mp4"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx265", rate=25, options={"x265-params": "log-level=error:crf=4"})
        stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p10le"
        for _ in range(3):
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture(128, 64, 64), format="rgb24")))
        out.mux(stream.encode(None))
    image = next(iter(open_clip(path).frames())).image
    np.testing.assert_allclose(image.astype(int), 128, atol=3)


def test_bt2020_without_hdr_is_converted_too(tmp_path: Path) -> None:
    path = tmp_path / "wide.mp4"
    params = "log-level=error:crf=4:colorprim=bt2020:transfer=bt2020-10:colormatrix=bt2020nc:range=limited"
    with av.open(str(path), "w") as out:
        stream = out.add_stream("libx265", rate=25, options={"x265-params": params})
        stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p10le"
        for _ in range(3):
            out.mux(stream.encode(av.VideoFrame.from_ndarray(picture(128, 64, 64), format="rgb24")))
        out.mux(stream.encode(None))
    with av.open(str(path)) as container:
        assert next(container.decode(video=0)).color_primaries == ColorPrimaries.BT2020
    image = next(iter(open_clip(path).frames())).image
    np.testing.assert_allclose(image.astype(int), 128, atol=6)


def decoded_pictures(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Grows by one with each picture that is decoded."""
    decoded: list[int] = []

    def counted(*arguments: Any) -> Iterator[Any]:
        for one in pictures(*arguments):
            decoded.append(1)
            yield one

    monkeypatch.setattr("vision.seeing.clip.pictures", counted)
    return decoded


def test_pictures_that_nobody_needs_are_not_decoded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    groups = "bframes=2:b-adapt=0:b-pyramid=0:scenecut=0:keyint=60:weightp=0"
    path = encode(tmp_path / "b.mp4", ramp(60), **{"x264-params": groups})
    source, decoded = open_clip(path), decoded_pictures(monkeypatch)
    assert [f.index for f in source.frames(min_step_s=0.24)] == list(range(0, 60, 6))
    assert len(decoded) < 30
    assert source.notes == ()


@pytest.mark.parametrize("name", ["seek.mp4", "seek.mkv", "seek.mov", "seek.ts", "seek.avi"])
def test_a_frame_is_the_same_however_it_is_reached(tmp_path: Path, name: str) -> None:
    rng = np.random.default_rng(5)
    images = [
        np.kron(rng.integers(0, 256, (6, 8, 3)), np.ones((8, 8, 1))).astype(np.uint8) for _ in range(40)
    ]
    pts = None if name.endswith("avi") else list(np.cumsum(rng.integers(5, 60, 40)).tolist())
    codec = "mpeg4" if name.endswith("avi") else "libx264"
    path = encode(tmp_path / name, images, pts, codec=codec, g="7", bf="0" if codec == "mpeg4" else "2")
    source = open_clip(path)
    whole = list(source.frames())
    assert len(whole) == 40
    for start in (1, 6, 7, 8, 20, 33, 39):
        part = list(source.frames(start_s=whole[start].time_s))
        assert [(f.index, f.time_s) for f in part] == [(f.index, f.time_s) for f in whole[start:]]
        assert all(np.array_equal(a.image, b.image) for a, b in zip(part, whole[start:], strict=True))
    for step in (0.07, 0.2):
        few = list(source.frames(min_step_s=step))
        assert 3 < len(few) < 40
        assert all(np.array_equal(f.image, whole[f.index].image) for f in few)


@pytest.mark.parametrize("dropped", [3, 5, 9])
def test_a_clip_trimmed_on_the_phone_starts_where_it_is_shown(tmp_path: Path, dropped: int) -> None:
    """Phones trim by an edit list: the pictures before it stay in the file and are not shown."""
    path = encode(tmp_path / "trimmed.mp4", ramp(30), g="5", bf="0", container={"use_editlist": "1"})
    shown = [f.image for f in open_clip(path).frames()]
    data = bytearray(path.read_bytes())
    at = data.index(b"mdhd") + 16
    scale = struct.unpack(">I", data[at : at + 4])[0]
    at = data.index(b"elst") + 16
    start = struct.unpack(">i", data[at : at + 4])[0]
    data[at : at + 4] = struct.pack(">i", start + dropped * 40 * scale // 1000)
    path.write_bytes(data)
    source = open_clip(path)
    frames = list(source.frames())
    assert source.clip.frames == len(frames) == 30 - dropped
    assert [f.time_s for f in frames] == [pytest.approx(0.04 * i) for i in range(30 - dropped)]
    assert all(np.array_equal(f.image, image) for f, image in zip(frames, shown[dropped:], strict=True))
    late = next(iter(source.frames(start_s=frames[8].time_s)))
    assert (late.index, late.time_s) == (8, frames[8].time_s)
    assert np.array_equal(late.image, frames[8].image)


@pytest.mark.skipif(os.name != "posix", reason="names that are no text exist on POSIX systems only")
def test_a_name_that_is_no_text_can_still_be_shown(tmp_path: Path) -> None:
    path = Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff\nset.mp4"))
    os.replace(encode(tmp_path / "set.mp4", ramp(3)), path)
    name = open_clip(path).clip.file
    assert name.encode("utf-8").decode() == name
    assert "\n" not in name
    assert name.endswith("set.mp4")


def test_a_late_start_is_reached_by_a_seek(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source, decoded = open_clip(encode(tmp_path / "far.mp4", ramp(60), g="6")), decoded_pictures(monkeypatch)
    assert [f.index for f in source.frames(start_s=2.0)] == list(range(50, 60))
    assert len(decoded) <= 20


@pytest.mark.parametrize("dropped", [1, 7, 24])
def test_a_clip_trimmed_at_its_end_stops_there(tmp_path: Path, dropped: int) -> None:
    path = encode(tmp_path / "short.mp4", ramp(30), g="5", bf="0", container={"use_editlist": "1"})
    data = bytearray(path.read_bytes())
    at = data.index(b"mvhd") + 16
    scale = struct.unpack(">I", data[at : at + 4])[0]
    at = data.index(b"elst") + 12
    data[at : at + 4] = struct.pack(">I", ((30 - dropped) * 40 - 20) * scale // 1000)
    path.write_bytes(data)
    source = open_clip(path)
    assert len(list(source.frames())) == source.clip.frames == 30 - dropped
    assert source.notes == ()


def test_end_and_step_leave_frames_out(tmp_path: Path) -> None:
    source = open_clip(encode(tmp_path / "step.mp4", ramp(20)))
    assert [f.index for f in source.frames(0.08, 0.2)] == [2, 3, 4, 5]
    assert [f.index for f in source.frames(min_step_s=0.08)] == list(range(0, 20, 2))
    assert [f.index for f in source.frames(min_step_s=0.1)] == list(range(0, 20, 3))
    assert list(source.frames(start_s=99.0)) == []


def test_frames_left_out_are_not_converted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source = open_clip(encode(tmp_path / "lazy.mp4", ramp(20)))
    converted: list[int] = []
    upright = source._upright
    monkeypatch.setattr(source, "_upright", lambda *a: (converted.append(1), upright(*a))[1])
    assert len(list(source.frames(min_step_s=0.2))) == len(converted) == 4


def test_pictures_are_streamed(tmp_path: Path) -> None:
    path = encode(tmp_path / "long.mp4", [picture(i % 250, 320, 240) for i in range(120)])
    source = open_clip(path)
    tracemalloc.start()
    for frame in source.frames():
        assert frame.image.shape == (240, 320, 3)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 8 * 320 * 240 * 3, "a few pictures at a time, of 120"


def open_files() -> int:
    return len(os.listdir("/proc/self/fd"))


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts open files the Linux way")
def test_an_abandoned_reading_closes_the_file(tmp_path: Path) -> None:
    source = open_clip(encode(tmp_path / "half.mp4", ramp(30)))
    before = open_files()
    for _ in range(5):
        reading: Iterator[Any] = iter(source.frames())
        next(reading)
        reading.close()  # type: ignore[attr-defined]
    assert open_files() == before


def test_repeated_timestamps_are_dropped(tmp_path: Path) -> None:
    """Two packets are rewritten to share one presentation timestamp; decoding times still rise."""
    source_path = encode(tmp_path / "plain.mp4", ramp(6), bf="0")
    path = tmp_path / "double.mkv"
    with av.open(str(source_path)) as inside, av.open(str(path), "w") as out:
        stream = out.add_stream_from_template(inside.streams.video[0])
        for i, packet in enumerate(p for p in inside.demux(video=0) if p.size):
            packet.stream = stream
            packet.pts, packet.dts = 40 * [0, 1, 1, 2, 3, 4][i], 40 * (i - 2)
            packet.time_base = MS
            out.mux(packet)
    times = [f.time_s for f in open_clip(path).frames()]
    assert len(times) == 5
    assert all(np.diff(times) > 0)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(steps=st.lists(st.integers(1, 400), min_size=1, max_size=25), first=st.integers(0, 3000))
def test_any_rising_timestamps_survive(tmp_path: Path, steps: list[int], first: int) -> None:
    pts = [first, *(first + np.cumsum(steps)).tolist()]
    source = open_clip(encode(tmp_path / "any.mp4", [picture(80, 32, 32)] * len(pts), pts))
    assert [f.time_s for f in source.frames()] == [(p - first) / 1000 for p in pts]


def audio_only(path: Path) -> None:
    with av.open(str(path), "w") as out:
        stream = out.add_stream("aac", rate=44100)
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
        frame.rate = 44100
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


def cover_only(path: Path) -> None:
    with av.open(str(path), "w") as out:
        sound = out.add_stream("aac", rate=44100)
        cover = out.add_stream("mjpeg", rate=25)
        cover.width, cover.height, cover.pix_fmt = 64, 48, "yuvj420p"
        cover.disposition = av.stream.Disposition.attached_pic
        frame = av.AudioFrame.from_ndarray(np.zeros((1, 1024), np.float32), format="fltp", layout="mono")
        frame.rate = 44100
        out.mux(sound.encode(frame))
        out.mux(cover.encode(av.VideoFrame.from_ndarray(picture(70), format="rgb24")))
        out.mux(sound.encode(None))


def cut(path: Path) -> None:
    data = encode(path, ramp(10)).read_bytes()
    path.write_bytes(data[: len(data) // 2])


def overwritten(path: Path) -> None:
    data = bytearray(encode(path, ramp(10)).read_bytes())
    start = data.index(b"mdat") + 4
    end = data.index(b"moov") - 4
    data[start:end] = bytes(end - start)
    path.write_bytes(data)


MAKERS: dict[str, tuple[Callable[[Path], object], str]] = {
    "missing": (lambda p: None, "is not there"),
    "folder": (lambda p: p.mkdir(), "is a folder"),
    "pipe": (lambda p: os.mkfifo(p), "is not a file"),
    "empty": (lambda p: p.touch(), "is empty"),
    "text": (lambda p: p.write_text("no video at all " * 99), "is not a video"),
    "noise": (lambda p: p.write_bytes(np.random.default_rng(1).bytes(20000)), "is not a video"),
    "sound": (audio_only, "no moving picture"),
    "cover": (cover_only, "no moving picture"),
    "single": (lambda p: encode(p, ramp(1)), "a single picture"),
    "cut off": (cut, "is not a video"),
    "overwritten": (overwritten, "is damaged"),
    "huge": (lambda p: encode(p, [picture(0, 8208, 16)] * 2, preset="ultrafast"), "too large"),
    "endless": (lambda p: encode(p, ramp(3), [0, 40, 7_300_000]), "longer than two hours"),
}


@pytest.mark.parametrize("case", MAKERS)
def test_what_is_no_clip_gives_one_sentence(tmp_path: Path, case: str) -> None:
    make, said = MAKERS[case]
    path = tmp_path / "set one.mp4"
    make(path)
    with pytest.raises(ClipError, match=said) as caught:
        open_clip(path)
    message = str(caught.value)
    assert message.startswith("set one.mp4 ")
    assert message.endswith(".")
    assert "\n" not in message
    assert str(tmp_path) not in message


def playlist(folder: Path, entry: str) -> Path:
    """A list under the name that lets FFmpeg read it as one: under .mp4 it is refused whatever we say."""
    path = folder / "set.m3u8"
    path.write_text(f"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\n{entry}\n#EXT-X-ENDLIST\n")
    return path


def test_a_playlist_opens_no_other_file(tmp_path: Path) -> None:
    encode(tmp_path / "inner.ts", ramp(5))
    path = playlist(tmp_path, "inner.ts")
    with av.open(str(path)) as lured:
        assert lured.streams.video, "FFmpeg by itself must be lured, else this proves nothing"
    with pytest.raises(ClipError, match="is not a video"):
        open_clip(path)


def test_a_clip_is_opened_by_the_file_protocol_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, asked = encode(tmp_path / "set.mp4", ramp(3)), []
    really = av.open
    monkeypatch.setattr("av.open", lambda *a, **k: (asked.append((a, k)), really(*a, **k))[1])
    open_clip(path)
    assert asked
    for (name,), how in asked:
        assert name == f"file:{path}"
        assert how["options"]["protocol_whitelist"] == "file"


def test_a_title_in_an_old_encoding_stops_nothing(tmp_path: Path) -> None:
    path = encode(tmp_path / "set.mp4", ramp(3))
    data = path.read_bytes()
    assert b"Lavf" in data, "the writer names itself in the file"
    path.write_bytes(data.replace(b"Lavf", b"L\xfcvf"))
    assert open_clip(path).clip.frames == 3


@pytest.mark.parametrize(
    ("version", "rule"), [("18.1.0", {"metadata_errors": "replace"}), ("19.0.2", {}), ("20.0.0rc1", {})]
)
def test_only_the_library_that_knows_the_word_is_told_it(version: str, rule: dict[str, str]) -> None:
    assert container._title_rule(version) == rule


def cut_tail(path: Path, keep: float) -> None:
    """A clip with its index in front, of whose pictures only a part is there."""
    rng = np.random.default_rng(2)
    images = [
        np.kron(rng.integers(0, 256, (6, 8, 3)), np.ones((8, 8, 1))).astype(np.uint8) for _ in range(40)
    ]
    encode(path, images, g="5", container={"movflags": "faststart"})
    data = path.read_bytes()
    start = data.index(b"mdat")
    path.write_bytes(data[: start + int((len(data) - start) * keep)])


def test_a_missing_tail_is_tolerated_and_told(tmp_path: Path) -> None:
    path = tmp_path / "tail.mp4"
    cut_tail(path, 0.8)
    source = open_clip(path)
    frames = list(source.frames())
    assert 20 < len(frames) < 40
    assert source.clip.frames == len(frames)
    assert "breaks off" in " ".join(source.notes)


def test_most_of_the_clip_missing_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "tail.mp4"
    cut_tail(path, 0.2)
    with pytest.raises(ClipError, match="too little of it can be read"):
        open_clip(path)


@pytest.mark.parametrize(("share", "refused"), [(0.15, False), (0.9, True)])
def test_damage_inside_is_told_or_refused(tmp_path: Path, share: float, refused: bool) -> None:
    path = tmp_path / "holes.mp4"
    cut_tail(path, 1.0)
    data = bytearray(path.read_bytes())
    start = data.index(b"mdat") + 4
    hole = int((len(data) - start) * share)
    data[len(data) - hole :] = bytes(hole)
    path.write_bytes(data)
    source = open_clip(path)
    if refused:
        with pytest.raises(ClipError, match="is damaged"):
            list(source.frames())
    else:
        read = list(source.frames())
        assert 20 < len(read) < 40
        assert "is damaged" in " ".join(source.notes)
        assert list(source.frames())[-1].index == read[-1].index
        assert len(source.notes) == 1, "told once"


def test_a_clip_of_which_one_picture_is_asked_for_is_not_called_damaged(tmp_path: Path) -> None:
    source = open_clip(encode(tmp_path / "blink.mp4", ramp(4)))
    assert [f.index for f in source.frames(min_step_s=0.2)] == [0]
    assert source.notes == ()


@pytest.mark.parametrize("late_first", [False, True])
def test_damage_is_told_once_when_a_clip_is_read_in_halves(tmp_path: Path, late_first: bool) -> None:
    path = tmp_path / "holes.mp4"
    cut_tail(path, 1.0)
    data = bytearray(path.read_bytes())
    start = data.index(b"mdat") + 4
    hole = int((len(data) - start) * 0.15)
    data[len(data) - hole :] = bytes(hole)
    path.write_bytes(data)
    whole, halved = open_clip(path), open_clip(path)
    list(whole.frames())
    middle = halved.clip.duration_s / 2
    halves = [halved.frames(end_s=middle), halved.frames(start_s=middle - 0.2)]
    for half in reversed(halves) if late_first else halves:
        assert halved.notes == ()
        list(half)
    assert halved.notes == whole.notes != ()


def test_the_file_vanishing_is_a_sentence_too(tmp_path: Path) -> None:
    path = encode(tmp_path / "gone.mp4", ramp(5))
    source = open_clip(path)
    path.unlink()
    with pytest.raises(ClipError, match=r"gone\.mp4 is not"):
        list(source.frames())


def test_a_form_that_nobody_here_can_decode_is_one_sentence(tmp_path: Path) -> None:
    path = encode(tmp_path / "a.mp4", ramp(5))
    path.write_bytes(path.read_bytes().replace(b"avc1", b"zzz1"))
    with pytest.raises(ClipError, match="cannot be read here"):
        open_clip(path)


def test_a_strip_of_a_picture_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ClipError, match="only 2000 x 2 pixels"):
        open_clip(encode(tmp_path / "a.mp4", [picture(9, 2000, 2)] * 3))
