"""The command: ``plumbset check`` a clip, ``plumbset exercises`` to see what is known.

Heavy modules are imported when a command needs them, so that help is there at once.
"""

from __future__ import annotations

import math
import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from app.commands import register
from app.framing_command import framing
from app.progress_command import progress
from app.store_commands import register as register_store

if TYPE_CHECKING:
    from shared.domain import Clip
    from shared.exercise import Exercise
    from shared.member import Member
    from vision.analysis import SubjectPoint
    from vision.approved import Reference

EXIT_OK, EXIT_OURS, EXIT_UNFIT, EXIT_STOPPED = 0, 1, 3, 130
DEBUG = "PLUMBSET_DEBUG"
INSTALL = "apt-get install libgl1 libegl1 libgles2 libglib2.0-0"

app = typer.Typer(
    name="plumbset",
    help="Form checker for recorded strength sets: a phone clip in, a checked set out.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
exercises_app = typer.Typer(
    help="List the exercises, or explain one.", invoke_without_command=True, no_args_is_help=False
)
app.add_typer(exercises_app, name="exercises")
app.command()(framing)
app.command()(progress)
register(app)
register_store(app)


def _version(wanted: bool) -> None:
    if wanted:
        from importlib.metadata import version

        typer.echo(f"plumbset {version('plumbset')}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Form checker for recorded strength sets: a phone clip in, a checked set out."""


@app.command()
def check(
    clips: Annotated[
        list[Path],
        typer.Argument(
            metavar="CLIP [CLIP]", help="The clip of one set, or two of the same set.", show_default=False
        ),
    ],
    exercise: Annotated[str, typer.Option(help="Name of an exercise, or path of a TOML file of your own.")],
    out: Annotated[Path, typer.Option(help="Folder for the report; made when missing.")],
    side: Annotated[
        Literal["left", "right"] | None, typer.Option(help="Side of the body to judge in a side view.")
    ] = None,
    subject: Annotated[
        str | None, typer.Option(help="A point on the person to judge, x,y@t: pixels, seconds.")
    ] = None,
    height_cm: Annotated[
        float | None, typer.Option(help="Body height, so that lengths come out in centimetres.")
    ] = None,
    cleared: Annotated[
        bool, typer.Option("--cleared", help="A trainer has cleared the member for this exercise.")
    ] = False,
    member: Annotated[
        Path | None, typer.Option(help="TOML or JSON file with this member's own limits.")
    ] = None,
    reference: Annotated[
        Path | None, typer.Option(help="report.json of an approved set to compare this one with.")
    ] = None,
    mark: Annotated[
        list[str] | None,
        typer.Option(help="A point of the machine, name=x,y@t: pivot, knee, stack or handle; repeatable."),
    ] = None,
    pivot_depth_cm: Annotated[
        float, typer.Option(help="How much nearer to the camera a marked pivot is than the knee.")
    ] = 15.0,
    model: Annotated[Path | None, typer.Option(help="Another landmark model file.")] = None,
    annotated: Annotated[
        bool, typer.Option("--annotated", help="Also write the clip with limbs and angles drawn on it.")
    ] = False,
    show_faces: Annotated[
        bool, typer.Option("--show-faces", help="Leave heads visible in what is written.")
    ] = False,
    raw: Annotated[bool, typer.Option("--raw", help="Leave out learnt corrections of angles.")] = False,
) -> None:
    """Check the clip of one set, or two clips of it from two sides, and write its report."""
    from app.marks_option import depth, inside, parse_marks
    from app.terminal import print_set, steps
    from shared.exercise import find_exercise
    from vision.analysis import Options

    definition = find_exercise(exercise)
    point = None if subject is None else parse_subject(subject)
    own, approved = _yardsticks(definition, member, reference)
    marks = parse_marks(mark or (), definition)
    options = Options(
        side, point, _height(height_cm), cleared, raw, own, approved, marks, depth(pivot_depth_cm)
    )
    _one_or_two(clips)
    _ready_to_write(out)
    with steps() as step:
        from vision.clip import open_clip
        from vision.outputs.write import write_outputs
        from vision.pipeline import analyse
        from vision.pose_mediapipe import MediaPipePose

        pose = MediaPipePose(model)
        sources = [open_clip(path) for path in clips]
        _inside(point, sources[0].clip)
        inside(marks, sources[0].clip)
        following, second = step("Following the set"), None
        if len(sources) == 1:
            analysis = analyse(sources[0], definition, pose, options, following)
        else:
            from vision.pair import analyse_pair

            pair = analyse_pair((sources[0], sources[1]), definition, pose, options, following)
            analysis, second = pair.first, (sources[1], pair.second)
        writing = step("Writing the report")
        page = write_outputs(sources[0], analysis, out, annotated, show_faces, writing, second)
    print_set(analysis, page)
    if not analysis.report.quality.usable:
        raise typer.Exit(EXIT_UNFIT)


@exercises_app.callback()
def exercises(context: typer.Context) -> None:
    """List the exercises, or explain one."""
    if context.invoked_subcommand is None:
        from app.terminal import print_exercises
        from shared.exercise import exercise_names, find_exercise

        print_exercises([find_exercise(name) for name in exercise_names()])


@exercises_app.command("show")
def show(
    name: Annotated[str, typer.Argument(help="Name of an exercise, or path of a TOML file.")],
) -> None:
    """Explain one exercise: how to film it and what is checked, to pin on the wall."""
    from app.terminal import print_exercise
    from shared.exercise import find_exercise

    print_exercise(find_exercise(name))


def parse_subject(text: str) -> SubjectPoint:
    """``x,y`` or ``x,y@t`` as a point; UsageError for anything else."""
    from shared.errors import UsageError
    from vision.analysis import SubjectPoint

    number = r"(\d+(?:\.\d+)?)"
    match = re.fullmatch(rf"\s*{number}\s*,\s*{number}\s*(?:@\s*{number}\s*s?\s*)?", text, re.ASCII)
    if match is None:
        raise UsageError(
            f"--subject {text!r} is no point; write x,y@t, such as 540,900@2.5 (pixels, then seconds)."
        )
    x, y, t = match.groups()
    return SubjectPoint(float(x), float(y), float(t or 0))


def _yardsticks(
    definition: Exercise, member: Path | None, reference: Path | None
) -> tuple[Member | None, Reference | None]:
    """The member's limits and the approved set; a reference of the command line comes first."""
    from shared.member import read_member
    from vision.approved import load_reference

    own = None if member is None else read_member(member, definition)
    if reference is None and member is not None and own is not None:
        beside = own.own(definition.name).reference
        reference = None if beside is None else member.parent / beside
    return own, None if reference is None else load_reference(reference, definition)


def _inside(point: SubjectPoint | None, clip: Clip) -> None:
    from shared.errors import UsageError

    if point is None:
        return
    if point.x >= clip.width or point.y >= clip.height:
        raise UsageError(
            f"--subject {point.x:g},{point.y:g} lies outside the upright picture, "
            f"which is {clip.width} wide and {clip.height} high."
        )
    if point.time_s > clip.duration_s:
        raise UsageError(f"--subject @{point.time_s:g} lies after the clip's end at {clip.duration_s:.1f} s.")


def _one_or_two(clips: list[Path]) -> None:
    from shared.errors import UsageError

    if len(clips) > 2:
        raise UsageError("More than two clips were given; give one, or two of the same set.")
    if len(clips) == 2 and clips[0].absolute() == clips[1].absolute():
        raise UsageError(f"{clips[0].name} was given twice; give two clips of the same set from two sides.")


def _height(height_cm: float | None) -> float | None:
    from shared.errors import UsageError

    if height_cm is not None and not (math.isfinite(height_cm) and 100 <= height_cm <= 230):
        raise UsageError(f"--height-cm {height_cm:g} is no body height; give one from 100 to 230.")
    return height_cm


def _ready_to_write(out: Path) -> None:
    """Fail before the long part where the folder can never be written."""
    from shared.errors import UsageError

    there = next((p for p in (out, *out.absolute().parents) if p.exists()), None)
    if there is not None and not there.is_dir():
        raise UsageError(f"--out {out}: {there.name} is a file; choose a folder.")
    if there is not None and not os.access(there, os.W_OK):
        raise UsageError(f"--out {out}: nothing may be written there; choose another folder.")


def main() -> None:
    """Entry point of the command."""
    sys.exit(run(lambda: app(standalone_mode=False)))


def run(command: Callable[[], object]) -> int:
    """Run a command; every failure becomes one sentence on stderr and an exit code."""
    try:
        code = command()
    except Exception as error:
        if os.environ.get(DEBUG):
            raise
        return _say(*_sentence(error))
    if code == EXIT_STOPPED:
        return _say("Stopped; no half-written file is left.", EXIT_STOPPED)
    return code if isinstance(code, int) else EXIT_OK


def _sentence(error: Exception) -> tuple[str, int]:
    from shared.errors import PlumbsetError

    if isinstance(error, PlumbsetError):
        return str(error), error.exit_code
    if hasattr(error, "format_message") and hasattr(error, "exit_code"):
        return " ".join(error.format_message().split()), int(error.exit_code)
    library = (
        re.search(r"(lib[\w+.-]+?\.so[.\d]*)", str(error))
        if isinstance(error, ImportError | OSError)
        else None
    )
    if library:
        return f"The system library {library[1]} is missing; install it with: sudo {INSTALL}", EXIT_OURS
    return (
        f"Something went wrong on our side ({type(error).__name__}); your clip is untouched. "
        f"Set {DEBUG}=1 and run again to see details.",
        EXIT_OURS,
    )


def _say(sentence: str, code: int) -> int:
    if sentence:
        typer.echo(f"plumbset: {sentence}", err=True)
    return code


if __name__ == "__main__":
    main()
