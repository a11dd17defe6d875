"""Analysis -> the files a set leaves behind, each complete or absent."""

from __future__ import annotations

from pathlib import Path

from shared.errors import UsageError
from vision.common.seams import FrameSource, Progress
from vision.telling.analysis import Analysis
from vision.telling.files import replace, write_text
from vision.telling.html import render_html
from vision.telling.tables import reps_csv, signals_csv

ANNOTATED = "annotated.mp4"


def write_outputs(
    source: FrameSource,
    analysis: Analysis,
    out: Path,
    annotated: bool = False,
    show_faces: bool = False,
    progress: Progress | None = None,
    second: tuple[FrameSource, Analysis] | None = None,
) -> Path:
    """Write report.json, reps.csv, signals.csv, report.html and, when asked, annotated.mp4.

    The numbers are written first, so that a picture that fails does not cost them. Each file is
    written beside its place and then moved there; an annotated clip of an earlier run does not
    stay beside a new report. second: the other clip of a set filmed twice, for its pictures.
    Returns the path of report.html.

    Raises
    ------
    UsageError : the folder cannot be made or written to.
    """
    from vision.telling.pictures import flag_pictures

    try:
        out.mkdir(parents=True, exist_ok=True)
        write_text(out / "report.json", analysis.report.to_json())
        write_text(out / "reps.csv", reps_csv(analysis.report))
        write_text(out / "signals.csv", signals_csv(analysis))
        pictures = flag_pictures(source, analysis, show_faces)
        if second is not None:
            pictures |= flag_pictures(*second, show_faces)
        write_text(out / "report.html", render_html(analysis, pictures, _still(source, analysis, show_faces)))
        (out / ANNOTATED).unlink(missing_ok=True)
        if annotated:
            _write_video(source, analysis, path=out / ANNOTATED, show_faces=show_faces, progress=progress)
    except OSError as error:
        raise UsageError(
            f"The folder {out} cannot be written to ({error.strerror}); choose another one with --out."
        ) from error
    return out / "report.html"


def _still(source: FrameSource, analysis: Analysis, show_faces: bool) -> bytes | None:
    if analysis.machine is None or not analysis.machine.marks:
        return None
    from vision.telling.pictures import marks_picture

    return marks_picture(source, analysis, show_faces)


def _write_video(
    source: FrameSource, analysis: Analysis, path: Path, show_faces: bool, progress: Progress | None
) -> None:
    from vision.telling.video import write_annotated

    replace(
        path,
        lambda part: write_annotated(source, analysis, path=part, show_faces=show_faces, progress=progress),
    )
