"""What ``plumbset check`` does with its clips, in a process of its own: native code reads them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from app.jobs.contained import Child, Say, quiet, run_contained, started
from app.jobs.following import Following
from app.jobs.held import Limits
from app.reading.failures import in_words
from shared.errors import UsageError
from shared.exercise import tagged_exercise

if TYPE_CHECKING:
    from shared.domain import Clip
    from shared.exercise import Exercise
    from shared.report import SetReport
    from vision.judging.options import Options
    from vision.seeing.subject import SubjectPoint

    Checked = tuple[SetReport, Exercise, Path]

#: Who sits at the terminal can stop it; two hours of clip may take their time.
LIMITS = Limits(wall_s=8 * 3600.0, cpu_s=16 * 3600, file_mb=50_000)
_HEAVY = ("vision.pipeline", "vision.seeing.clip", "vision.seeing.pose_mediapipe", "vision.telling.write")


@dataclass(frozen=True)
class Wanted:
    """The clips of one set, one or two, and what is to be made of them in the folder ``out``."""

    clips: list[Path]
    definition: Exercise
    options: Options
    out: Path
    model: Path | None = None
    annotated: bool = False
    show_faces: bool = False


def ready() -> Child:
    """The process that will read the clips: it loads what is heavy while the rest is got ready here."""
    return Child(lambda: started(*_HEAVY))


def check_contained(child: Child, wanted: Wanted, say: Say) -> Checked:
    """Judge the set and write what comes of it; its report, the exercise as judged, and the page.

    Raises
    ------
    PlumbsetError : see ``app.jobs.contained.run_contained``; no half-written file stays.
    """
    from shared.exercise import Exercise
    from shared.report import SetReport

    answer = tuple[SetReport, Exercise, Path]
    try:
        checked: Checked = child.ask(_worded, (wanted,), say, answer, LIMITS)
    except BaseException:
        child.end()
        for part in wanted.out.glob(".part-*"):  # of a process that was ended while it wrote
            part.unlink(missing_ok=True)
        raise
    return checked


def _worded(wanted: Wanted, say: Say) -> Checked:
    return in_words(lambda: _check(wanted, say))


def machine_in(clip: Path) -> Exercise:
    """The exercise whose printed tags a clip shows.

    Raises
    ------
    UsageError : it shows none, or those of a machine that nothing here knows; else as ``check_contained``.
    """
    number: int | None = run_contained(_tag_number, (clip,), quiet, int | None, LIMITS)
    found = None if number is None else tagged_exercise(number)
    if found is None:
        seen = "shows no printed tag" if number is None else f"shows tags of an unknown machine ({number})"
        raise UsageError(f"{clip.name} {seen}; say which machine it is with --exercise.")
    return found


def _tag_number(clip: Path, say: Say) -> int | None:
    from vision.seeing.clip import open_clip
    from vision.seeing.tag_tracker import seen_machines, seen_tags

    return in_words(lambda: next(iter(seen_machines(seen_tags(open_clip(clip)))), None))


def _check(wanted: Wanted, say: Say) -> Checked:
    from app.reading.marks_option import inside
    from vision.pipeline import analyse
    from vision.seeing.clip import open_clip
    from vision.seeing.pose_mediapipe import MediaPipePose
    from vision.telling.write import write_outputs

    pose, options = MediaPipePose(wanted.model), wanted.options
    sources = [open_clip(path) for path in wanted.clips]
    point_inside(options.subject, sources[0].clip)
    inside(options.marks, sources[0].clip)

    following = Following(say)
    second = None
    if len(sources) == 1:
        analysis = analyse(sources[0], wanted.definition, pose, options, following, first=following.first)
    else:
        from vision.pair import analyse_pair

        pair = analyse_pair((sources[0], sources[1]), wanted.definition, pose, options, following)
        analysis, second = pair.first, (sources[1], pair.second)
    following(1.0)
    say("Writing the report", 0.0)
    page = write_outputs(
        sources[0], analysis, wanted.out, wanted.annotated, wanted.show_faces,
        lambda share: say("Writing the report", share), second,
    )  # fmt: skip
    return analysis.report, analysis.exercise, page


def point_inside(point: SubjectPoint | None, clip: Clip) -> None:
    """UsageError for a point outside the clip's picture or after its end."""
    if point is None:
        return
    if point.x >= clip.width or point.y >= clip.height:
        raise UsageError(
            f"--subject {point.x:g},{point.y:g} lies outside the upright picture, "
            f"which is {clip.width} wide and {clip.height} high."
        )
    if point.time_s > clip.duration_s:
        raise UsageError(f"--subject @{point.time_s:g} lies after the clip's end at {clip.duration_s:.1f} s.")
