"""Analysis -> the clip with what was seen drawn on it, as an mp4 that browsers play, without sound."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.video.reformatter import ColorPrimaries, ColorRange, Colorspace, ColorTrc, VideoReformatter
from av.video.stream import VideoStream

from shared.domain import Image, Rep
from shared.errors import InternalError
from shared.report import FindingPart
from vision.common.seams import FrameSource, Progress
from vision.telling.analysis import Analysis
from vision.telling.files import replace
from vision.telling.heads import HeadHider
from vision.telling.overlay import draw_limbs, draw_marks, near_side, points_at, value_text
from vision.telling.pictures import fit, hider_for, marks_of
from vision.telling.strokes import plate, text_size, text_width, write

LONG_SIDE_PX = 1280
#: No more than this many frames a second are written; those written keep their own times.
MAX_RATE_HZ = 60.0
TIME_BASE = Fraction(1, 90_000)
#: (encoder, its options), the first one at hand is used: H.264 plays everywhere, VP9 nearly so.
ENCODERS: tuple[tuple[str, dict[str, str]], ...] = (
    ("libx264", {"crf": "24", "preset": "veryfast"}),
    ("libopenh264", {"b": "3000000"}),
    ("libvpx-vp9", {"crf": "34", "b": "0", "deadline": "realtime", "cpu-used": "6"}),
)


def write_annotated(
    source: FrameSource,
    analysis: Analysis,
    path: Path,
    show_faces: bool = False,
    progress: Progress | None = None,
    drawn: bool = True,
) -> None:
    """Write the annotated clip: H.264, 8-bit, at most 1280 px a side, true times, no sound.

    The file appears at ``path`` complete or not at all. Heads are hidden unless show_faces. drawn: with what
    was seen on it; without, for a page that draws it itself (``moving.py``).

    Raises
    ------
    ClipError : the clip cannot be read any more. InternalError : no encoder, or it failed.
    """
    hider = None if show_faces else hider_for(analysis)
    try:
        replace(path, lambda part: _encode(source, analysis, part, hider, progress=progress, drawn=drawn))
    except av.FFmpegError as error:
        raise InternalError(
            f"Writing {path.name} failed ({error.strerror}); check the free space and run again."
        ) from error


def _encode(
    source: FrameSource,
    analysis: Analysis,
    path: Path,
    hider: HeadHider | None,
    progress: Progress | None,
    drawn: bool,
) -> None:
    convert = VideoReformatter()
    length = max(analysis.clip.duration_s, 1e-6)
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as out:
        stream: VideoStream | None = None
        for frame in source.frames(min_step_s=1.0 / MAX_RATE_HZ):
            image = fit(frame.image, LONG_SIDE_PX)
            if hider is not None:
                image = hider.apply(image, frame.time_s)
            image = annotate(image, analysis, frame.time_s) if drawn else image
            if stream is None:
                stream = _stream(out, image)
            out.mux(stream.encode(_video_frame(image, frame.time_s, convert)))
            if progress is not None:
                progress(min(1.0, frame.time_s / length))
        if stream is not None:
            out.mux(stream.encode(None))


def annotate(image: Image, analysis: Analysis, time_s: float) -> Image:
    """A copy with the limbs, the repetition and its phase, and captions while it is flagged."""
    out = image.copy()
    if analysis.track is not None:
        scale = image.shape[1] / analysis.track.picture[0]
        points = points_at(analysis.track, time_s, scale)
        out = draw_limbs(image, points, near_side(analysis.track))
        out = draw_marks(out, marks_of(analysis), time_s=time_s, scale=scale)
    rep = rep_at(analysis, time_s)
    if rep is not None:
        flags = [f for f in analysis.report.flags() if f.rep == rep.number]
        _strip(out, rep, phase_at(rep, time_s))
        _captions(out, flags)
    return out


def rep_at(analysis: Analysis, time_s: float) -> Rep | None:
    """The repetition that is going on, its rest included."""
    for rep in analysis.reps.reps if analysis.reps is not None else ():
        if rep.start_s <= time_s < rep.end_s + (rep.rest_s or 0.0):
            return rep
    return None


def phase_at(rep: Rep, time_s: float) -> str:
    """One of lift, hold, lower and rest."""
    ends = ((rep.turn_s, "lift"), (rep.lower_start_s, "hold"), (rep.end_s, "lower"))
    return next((word for end_s, word in ends if time_s < end_s), "rest")


def _strip(image: Image, rep: Rep, phase: str) -> None:
    """Repetition and phase along the bottom, in place."""
    height, width = image.shape[:2]
    size = 0.8 * text_size(image)
    plate(image, (0, height - 1.7 * size), size=(width, 1.7 * size), strength=0.6)
    words = f"Rep {rep.number}{' (partial)' if rep.partial else ''}"
    write(image, (size, height - 0.5 * size), text=words, size=size)
    write(image, (width - size - text_width(phase, size), height - 0.5 * size), text=phase, size=size)


def _captions(image: Image, flags: list[FindingPart]) -> None:
    """Title and value of each flag of the repetition, from the top, in place."""
    for row, finding in enumerate(flags):
        value = value_text(finding)
        words = f"{finding.title or finding.check}{': ' if value else ''}{value}"
        size = 0.8 * text_size(image)
        room = image.shape[1] - 1.6 * size
        size *= min(1.0, room / max(1.0, text_width(words, size)))
        top = (0.4 + 2.0 * row) * 0.8 * text_size(image)
        plate(
            image, (0.4 * size, top), size=(text_width(words, size) + 0.8 * size, 1.6 * size), strength=0.75
        )
        write(image, (0.8 * size, top + 1.15 * size), text=words, size=size)


def _stream(out: av.container.OutputContainer, image: Image) -> VideoStream:
    encoder = next((e for e in ENCODERS if _can_encode(e[0])), None)
    if encoder is None:
        raise InternalError("This PyAV has no H.264 or VP9 encoder; install the one from requirements/.")
    stream = out.add_stream(encoder[0], rate=int(MAX_RATE_HZ), options=encoder[1])
    if not isinstance(stream, VideoStream):
        raise InternalError(f"The encoder {encoder[0]} makes no video; install PyAV from requirements/.")
    stream.width, stream.height, stream.pix_fmt = image.shape[1], image.shape[0], "yuv420p"
    context = stream.codec_context
    context.time_base = TIME_BASE
    context.colorspace, context.color_range = int(Colorspace.ITU709), int(ColorRange.MPEG)
    context.color_primaries, context.color_trc = int(ColorPrimaries.BT709), int(ColorTrc.BT709)
    return stream


def _can_encode(name: str) -> bool:
    try:
        av.Codec(name, "w")
    except av.codec.codec.UnknownCodecError:
        return False
    return True


def _video_frame(image: Image, time_s: float, convert: VideoReformatter) -> av.VideoFrame:
    rgb = av.VideoFrame.from_ndarray(np.ascontiguousarray(image), format="rgb24")
    frame = convert.reformat(
        rgb, format="yuv420p", dst_colorspace=Colorspace.ITU709, dst_color_range=ColorRange.MPEG
    )
    frame.pts, frame.time_base = round(time_s / TIME_BASE), TIME_BASE
    return frame
