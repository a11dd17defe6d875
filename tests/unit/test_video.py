"""The annotated clip and the flag pictures: playable, on time, silent, and without a face."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest

from shared.domain import Clip, Frame, Landmarks, Rep, RepSet, Track, View
from shared.errors import ClipError, InternalError
from shared.exercise import find_exercise
from shared.keypoints import INDEX, KEYPOINTS
from shared.report import ClipPart, FindingPart, QualityPart, ScalePart, SetReport
from vision.judging.options import Options
from vision.measuring.machine.shown import Machine
from vision.seeing.marks import MarkPath, MarkPoint
from vision.telling import video
from vision.telling.analysis import Analysis
from vision.telling.pictures import fit, flag_pictures, frame_near, marks_picture, part_shown, reaching
from vision.telling.strokes import MEASURED
from vision.telling.video import annotate, phase_at, rep_at, write_annotated

SIZE = (320, 240)
TIMES = [0.0, 0.033, 0.1, 0.2, 0.233, 0.4, 0.5, 0.55, 0.6, 0.8]
HEAD_XY = (160, 40)


class Source:
    """Frames in memory; ``reads`` counts how often they were asked for."""

    def __init__(self, images: list[np.ndarray], fails_at: int | None = None):
        height, width = images[0].shape[:2]
        self.clip = Clip("set.mp4", 0.9, len(images), 12.0, width, height, 0)
        self.images = images
        self.fails_at = fails_at
        self.reads = 0

    def frames(
        self, start_s: float = 0.0, end_s: float | None = None, min_step_s: float = 0.0
    ) -> Iterator[Frame]:
        self.reads += 1
        for i, (t, image) in enumerate(zip(TIMES, self.images, strict=True)):
            if i == self.fails_at:
                raise ClipError("set.mp4 is damaged: read it again.")
            if t >= start_s and (end_s is None or t <= end_s):
                yield Frame(i, t, image)


def noise(width: int = SIZE[0], height: int = SIZE[1]) -> list[np.ndarray]:
    rng = np.random.default_rng(4)
    return [rng.integers(0, 256, (height, width, 3), dtype=np.uint8) for _ in TIMES]


def points(width: int, height: int) -> np.ndarray:
    """One upright person (33, 2) in the middle of the picture."""
    rows = {"shoulder": 70, "elbow": 105, "wrist": 135, "hip": 135, "knee": 175, "ankle": 215, "heel": 220}
    out = np.zeros((33, 2))
    for i, name in enumerate(KEYPOINTS):
        side = 1 if name.startswith("left") else -1
        y = next((v for part, v in rows.items() if part in name), 40 if i < 11 else 222)
        out[i] = (HEAD_XY[0] + side * (4 if i < 11 else 16), y)
    out[INDEX["left_knee"], 0] += 20
    return out * (width / SIZE[0], height / SIZE[1])


def analysis(width: int = SIZE[0], height: int = SIZE[1], flags: tuple[FindingPart, ...] = ()) -> Analysis:
    where = points(width, height)
    n = len(TIMES)
    image = np.zeros((n, 1, 33, 3))
    image[..., :2] = where
    ones = np.ones((n, 1, 33))
    people = Landmarks(np.arange(n), np.array(TIMES), image, image.copy(), ones, ones)
    clock = np.arange(28) / 30
    track = Track(
        clock, 30.0, np.tile(where, (28, 1, 1)), np.zeros((28, 33, 3)), np.ones((28, 33)), np.ones(33),
        "left", 1, View("side-left", 0.0, 90.0), 60.0, (width, height),
    )  # fmt: skip
    rep = Rep(1, 0.1, 0.3, 0.4, 0.6, 0.1, 90, 150, 150, 90, 200, 200, False, 1.0)
    report = SetReport.model_validate(
        {"schema": "plumbset.set-report/1", "exercise": "leg-extension", "count": 1, "findings": flags,
         "clip": ClipPart(file="set.mp4", duration_s=0.9, frames=n, fps_mean=12, width=width, height=height,
                          rotation_deg=0),
         "quality": QualityPart(usable=True, view="side-left"), "scale": ScalePart(unit="trunk_fraction"),
         "cautions": [], "versions": {}}
    )  # fmt: skip
    return Analysis(
        Clip("set.mp4", 0.9, n, 12.0, width, height, 0), find_exercise("leg-extension"), Options(),
        (people,), people, track, {}, RepSet((rep,), 60.0, 0.1, 0.7), report,
    )  # fmt: skip


def flag(check: str, time_s: float | None, **more: Any) -> FindingPart:
    names = ["left_hip", "left_knee", "left_ankle"]
    fields = {"check": check, "rep": 1, "time_s": time_s, "frame": 0, "verdict": "flag", "measured": 184.0,
              "uncertainty": 5.0, "limit": 172.0, "unit": "deg", "prompt": "", "points": names,
              "title": "Knee locked"}  # fmt: skip
    return FindingPart.model_validate({**fields, **more})


def test_the_clip_is_h264_without_sound_and_keeps_its_times(tmp_path: Path) -> None:
    shares: list[float] = []
    path = tmp_path / "annotated.mp4"
    write_annotated(Source(noise()), analysis(), path, progress=shares.append)
    with av.open(str(path)) as clip:
        stream = clip.streams.video[0]
        assert (stream.codec_context.name, stream.codec_context.pix_fmt) == ("h264", "yuv420p")
        assert len(clip.streams) == 1
        times = [float(frame.pts * stream.time_base) for frame in clip.decode(stream)]
    np.testing.assert_allclose(np.array(times) - times[0], TIMES, atol=1e-4)
    data = path.read_bytes()
    assert data.index(b"moov") < data.index(b"mdat"), "a browser can start before it has all"
    assert shares == sorted(shares)
    assert [p.name for p in tmp_path.iterdir()] == ["annotated.mp4"]


@pytest.mark.parametrize(("width", "height", "expected"), [(321, 241, (320, 240)), (1600, 1200, (1280, 960))])
def test_sizes_are_even_and_at_most_1280(
    tmp_path: Path, width: int, height: int, expected: tuple[int, int]
) -> None:
    path = tmp_path / "annotated.mp4"
    write_annotated(Source(noise(width, height)), analysis(width, height), path)
    with av.open(str(path)) as clip:
        context = clip.streams.video[0].codec_context
        assert (context.width, context.height) == expected


def test_heads_are_hidden_unless_shown(tmp_path: Path) -> None:
    """A checkerboard stands for the head: its contrast survives only when faces are shown."""
    board = np.kron(np.indices((60, 80)).sum(axis=0) % 2 * 255, np.ones((4, 4)))
    images = [np.repeat(board[:240, :320, None], 3, axis=2).astype(np.uint8) for _ in TIMES]
    contrast = {}
    for show in (True, False):
        path = tmp_path / f"{show}.mp4"
        write_annotated(Source(images), analysis(), path, show_faces=show)
        with av.open(str(path)) as clip:
            decoded = [frame.to_ndarray(format="rgb24") for frame in clip.decode(video=0)]
        x, y = HEAD_XY
        contrast[show] = max(float(image[y - 12 : y + 12, x - 12 : x + 12].std()) for image in decoded)
    assert contrast[True] > 80
    assert contrast[False] < 8


def test_a_failure_leaves_nothing_behind(tmp_path: Path) -> None:
    with pytest.raises(ClipError, match="damaged"):
        write_annotated(Source(noise(), fails_at=5), analysis(), tmp_path / "annotated.mp4")
    assert list(tmp_path.iterdir()) == []


def test_without_an_encoder_there_is_a_sentence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(video, "ENCODERS", (("no-such-encoder", {}),))
    with pytest.raises(InternalError, match=r"no H\.264 or VP9 encoder"):
        write_annotated(Source(noise()), analysis(), tmp_path / "annotated.mp4")
    assert list(tmp_path.iterdir()) == []


def test_the_next_best_encoder_is_vp9(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(video, "ENCODERS", (("no-such-encoder", {}), *video.ENCODERS[2:]))
    write_annotated(Source(noise()), analysis(), tmp_path / "annotated.mp4")
    with av.open(str(tmp_path / "annotated.mp4")) as clip:
        assert clip.streams.video[0].codec_context.name.startswith(("vp9", "libvpx-vp9"))


def test_phases_follow_the_repetition() -> None:
    one = analysis()
    rep = rep_at(one, 0.2)
    assert rep is not None
    moments = [(0.1, "lift"), (0.3, "hold"), (0.45, "lower"), (0.65, "rest")]
    assert [(t, phase_at(rep, t)) for t, _ in moments] == moments
    assert rep_at(one, 0.05) is None
    assert rep_at(one, 0.75) is None


def test_captions_stand_only_in_flagged_repetitions() -> None:
    grey = np.full((240, 320, 3), 90, np.uint8)
    plain = annotate(grey, analysis(), 0.2)
    flagged = annotate(grey, analysis(flags=(flag("knee-lockout", 0.2),)), 0.2)
    other = annotate(grey, analysis(flags=(flag("knee-lockout", 0.2, rep=7),)), 0.2)
    assert (flagged[:30] != plain[:30]).any()
    assert np.array_equal(other, plain)
    assert (plain[-15:] != grey[-15:]).any(), "the strip along the bottom"
    assert np.array_equal(annotate(grey, analysis(), 0.05)[-10:], grey[-10:]), "no strip outside the set"


def test_every_flag_with_a_moment_has_a_picture() -> None:
    flags = (flag("a", 0.4), flag("b", 0.4), flag("c", 0.1, rep=None), flag("d", None), flag("e", 9.0))
    source = Source(noise())
    pictures = flag_pictures(source, analysis(flags=flags))
    assert set(pictures) == {("a", 1), ("b", 1), ("c", None)}
    assert source.reads == 3, "one reading a moment"
    image = cv2.imdecode(np.frombuffer(pictures["a", 1], np.uint8), cv2.IMREAD_COLOR)[..., ::-1]
    rows, columns = part_shown(analysis(flags=flags), 0.4, *SIZE)
    assert image.shape[:2] == (rows.stop - rows.start, columns.stop - columns.start)
    x, y = points(*SIZE)[INDEX["left_knee"]].astype(int) - (columns.start, rows.start)
    assert np.abs(image[y, x].astype(int) - MEASURED).max() < 60


def test_pictures_are_small_and_without_a_head() -> None:
    source = Source(noise(1600, 1200))
    one = analysis(1600, 1200, flags=(flag("a", 0.4),))
    hidden, shown = (
        cv2.imdecode(np.frombuffer(flag_pictures(source, one, show)["a", 1], np.uint8), cv2.IMREAD_COLOR)
        for show in (False, True)
    )
    assert max(hidden.shape) <= 900
    rows, columns = part_shown(one, 0.4, 900, 676)
    x, y = (round(v * 900 / 320) - part.start for v, part in zip(HEAD_XY, (columns, rows), strict=True))
    head = (slice(y - 30, y + 30), slice(x - 30, x + 30))
    assert hidden[head].std() < 10
    assert shown[head].std() > 20


def test_the_picture_of_the_marks_is_without_a_head() -> None:
    track = analysis(1600, 1200).track
    assert track is not None
    place = np.tile([1400.0, 1000.0], (len(track.time_s), 1))
    pivot = MarkPath(MarkPoint("pivot", 1400.0, 1000.0, 0.4), track.time_s, place, place, np.ones(len(place)))
    one = replace(analysis(1600, 1200), machine=Machine({"pivot": pivot}))
    contrast = {}
    for show in (False, True):
        data = np.frombuffer(marks_picture(Source(noise(1600, 1200)), one, show) or b"", np.uint8)
        image = cv2.imdecode(data, cv2.IMREAD_COLOR)
        x, y = (round(v * image.shape[1] / 320) for v in HEAD_XY)
        contrast[show] = float(image[y - 30 : y + 30, x - 30 : x + 30].std())
    assert contrast[False] < 10
    assert contrast[True] > 20


def test_a_picture_shows_the_part_with_the_whole_person_and_room_around() -> None:
    one = analysis(flags=(flag("a", 0.4),))
    rows, columns = part_shown(one, 0.4, *SIZE)
    known = points(*SIZE)[~np.isnan(points(*SIZE)).any(axis=1)]
    room = 10
    assert (known[:, 0] - room >= columns.start).all() or columns.start == 0
    assert (known[:, 1] + room <= rows.stop).all() or rows.stop == SIZE[1]
    assert (rows.stop - rows.start) * (columns.stop - columns.start) < 0.9 * SIZE[0] * SIZE[1]
    double = part_shown(one, 0.4, 2 * SIZE[0], 2 * SIZE[1])
    assert [abs(d.stop - 2 * s.stop) <= 2 for d, s in zip(double, (rows, columns), strict=True)] == [True] * 2


def test_no_track_or_no_flag_gives_no_picture() -> None:
    source = Source(noise())
    assert flag_pictures(source, analysis()) == {}
    assert source.reads == 0


@pytest.mark.parametrize(
    ("time_s", "index"), [(0.0, 0), (0.035, 1), (0.21, 3), (0.44, 5), (0.7, None), (5.0, None)]
)
def test_the_nearest_frame_is_taken(time_s: float, index: int | None) -> None:
    frame = frame_near(Source(noise()), time_s)
    assert (None if frame is None else frame.index) == index


def test_fit_only_makes_smaller() -> None:
    small = np.zeros((100, 60, 3), np.uint8)
    assert fit(small, 900) is small
    assert fit(np.zeros((2000, 1001, 3), np.uint8), 900).shape == (900, 450, 3)


@pytest.mark.parametrize(
    ("drawn", "expected"),
    [((), slice(10, 20)), ((12, 15), slice(10, 20)), ((4, 15), slice(4, 20)), ((12, 29), slice(10, 30))],
)
def test_words_drawn_beside_the_person_stay_in_the_picture(drawn, expected):
    along = np.zeros(40, dtype=bool)
    along[list(drawn)] = True
    assert reaching(slice(10, 20), along) == expected
