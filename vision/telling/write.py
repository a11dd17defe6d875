"""Analysis -> the files a set leaves behind, each complete or absent."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from shared.errors import UsageError
from vision.common.seams import FrameSource, Progress
from vision.telling.analysis import Analysis
from vision.telling.cues import another_machine, main_cue
from vision.telling.files import ANNOTATED, HANDOUT, PAGE, write_bytes, write_text
from vision.telling.handout import CHANGE, GOOD, Facts, Handout, handout
from vision.telling.html import Shown, render_html, shown
from vision.telling.tables import reps_csv, signals_csv

if TYPE_CHECKING:
    from vision.telling.stills import Still

Pair = tuple["Still | None", "Still | None"]


def write_outputs(
    source: FrameSource,
    analysis: Analysis,
    out: Path,
    annotated: bool = False,
    show_faces: bool = False,
    progress: Progress | None = None,
    second: tuple[FrameSource, Analysis] | None = None,
    facts: Facts = (),
) -> Path:
    """Write report.json, reps.csv, signals.csv, report.html, handout.png and, when asked, annotated.mp4.

    The numbers are written first, so that a picture that fails does not cost them. Each file is
    written beside its place and then moved there; an annotated clip or a hand-out of an earlier run does not
    stay beside a new report. second: the other clip of a set filmed twice, for its pictures. facts: what is
    known of member, day, load and settings, for the hand-out.
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
        sheet = handout(analysis.report, analysis.exercise, facts)
        pair = _stills(source, analysis, second, show_faces)
        still = _still(source, analysis, show_faces)
        write_text(out / PAGE, render_html(analysis, pictures, still, sheet, _shown(pair)))
        _write_handout(out / HANDOUT, sheet if analysis.report.quality.usable else None, pair)
        (out / ANNOTATED).unlink(missing_ok=True)
        if annotated:
            from vision.telling.video import write_annotated

            write_annotated(source, analysis, path=out / ANNOTATED, show_faces=show_faces, progress=progress)
    except OSError as error:
        raise UsageError(
            f"The folder {out} cannot be written to ({error.strerror}); choose another one with --out."
        ) from error
    return out / PAGE


def _stills(
    source: FrameSource,
    analysis: Analysis,
    second: tuple[FrameSource, Analysis] | None,
    show_faces: bool,
) -> Pair:
    """The hand-out's pictures, from the clip that shows the fault; none of what may be another machine."""
    from vision.telling.stills import stills

    if another_machine(analysis.report):
        return None, None
    main = main_cue(analysis.report)
    if second is not None and main is not None and main.lead.clip == second[1].clip.file:
        return stills(*second, show_faces)
    return stills(source, analysis, show_faces)


def _shown(pair: Pair) -> list[Shown]:
    from vision.telling.pictures import jpeg

    named = zip(("good", "change"), (GOOD, CHANGE), pair, strict=True)
    return [shown(kind, f"{words}: rep {s.rep}", jpeg(s.image)) for kind, words, s in named if s]


def _write_handout(path: Path, sheet: Handout | None, pair: Pair) -> None:
    if sheet is None:
        path.unlink(missing_ok=True)
        return
    from vision.telling.handout_picture import handout_png

    write_bytes(path, handout_png(sheet, *pair))


def _still(source: FrameSource, analysis: Analysis, show_faces: bool) -> bytes | None:
    if analysis.machine is None or not analysis.machine.marks:
        return None
    from vision.telling.pictures import marks_picture

    return marks_picture(source, analysis, show_faces)
