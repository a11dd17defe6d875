"""The command: ``plumbset check`` a clip, ``plumbset exercises`` to see what is known.

Heavy modules are imported when a command needs them, so that help is there at once.
"""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from app.command.batch import batch
from app.command.cards import cards
from app.command.cases import register as register_cases
from app.command.framing import framing
from app.command.page import register
from app.command.progress import progress as progress_command
from app.command.proof import proof
from app.command.sets import sets
from app.command.store import register as register_store
from app.command.tags import tags
from app.command.watch import watch
from app.reading.failures import DEBUG, EXIT_OK, EXIT_STOPPED, EXIT_UNFIT, sentence_of

if TYPE_CHECKING:
    from vision.seeing.subject import SubjectPoint

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
app.command()(batch)
app.command()(cards)
app.command()(framing)
app.command("progress")(progress_command)
app.command()(proof)
app.command()(sets)
app.command()(tags)
app.command()(watch)
register(app)
register_store(app)
register_cases(app)


def _version(wanted: bool) -> None:
    if wanted:
        from app.command.version import version_lines

        typer.echo("\n".join(version_lines()))
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool,
        typer.Option(
            "--version",
            callback=_version,
            is_eager=True,
            help="Print the versions of Plumbset, its models and its learnt data.",
        ),
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
    out: Annotated[Path, typer.Option(help="Folder for the report; made when missing.")],
    exercise: Annotated[
        str | None,
        typer.Option(
            help="Name of an exercise, or path of a TOML file of your own; printed tags tell it too.",
            show_default=False,
        ),
    ] = None,
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
        typer.Option(
            help="A point of the machine, name=x,y@t: pivot, knee, stack, handle or seat, or pad=x,y,x,y@t; "
            "repeatable."
        ),
    ] = None,
    places: Annotated[
        list[Path] | None,
        typer.Option(
            help="report.json of a clip with the frame board and marks: pivot, pad, seat are then found here "
            "without a mark; repeatable."
        ),
    ] = None,
    pivot_depth_cm: Annotated[
        float, typer.Option(help="How much nearer to the camera a marked pivot is than the knee.")
    ] = 15.0,
    proof: Annotated[
        Path | None,
        typer.Option(help="proof-numbers.json of plumbset proof: tell nothing more surely than it allows."),
    ] = None,
    model: Annotated[Path | None, typer.Option(help="Another landmark model file.")] = None,
    thorough: Annotated[
        bool, typer.Option("--thorough", help="Look twice even where nothing is flagged: takes longer.")
    ] = False,
    annotated: Annotated[
        bool, typer.Option("--annotated", help="Also write the clip with limbs and angles drawn on it.")
    ] = False,
    show_faces: Annotated[
        bool, typer.Option("--show-faces", help="Leave heads visible in what is written.")
    ] = False,
    raw: Annotated[
        bool, typer.Option("--raw", help="Leave out learnt corrections of angles and times.")
    ] = False,
    progress: Annotated[
        Literal["bar", "json"],
        typer.Option(help="How to show how far it is, on standard error: json for other programs."),
    ] = "bar",
) -> None:
    """Check the clip of one set, or two clips of it from two sides, and write its report."""
    from app.command.checking import Wanted, check_contained, machine_in, ready

    with ready() as child:
        from app.command.terminal import print_set, say_progress
        from app.reading.marks_option import depth, parse_marks
        from app.reading.places_option import read_places
        from app.reading.yardstick_option import height, yardsticks
        from shared.exercise import find_exercise
        from shared.proof import read_proof
        from vision.judging.options import Options

        definition = find_exercise(exercise) if exercise is not None else machine_in(clips[0])
        point = None if subject is None else parse_subject(subject)
        own, approved = yardsticks(definition, member, reference)
        options = Options(
            side, point, height_cm=height(height_cm), cleared=cleared, raw=raw, member=own,
            reference=approved, marks=parse_marks(mark or (), definition),
            sights=read_places(places or (), definition), pivot_depth_cm=depth(pivot_depth_cm),
            thorough=thorough, proof=None if proof is None else read_proof(proof),
        )  # fmt: skip
        _one_or_two(clips)
        _ready_to_write(out)
        with say_progress(progress) as (say, done):
            wanted = Wanted(
                clips,
                definition,
                options=options,
                out=out,
                model=model,
                annotated=annotated,
                show_faces=show_faces,
            )
            report, judged_as, page = check_contained(child, wanted, say)
            done(report)
    print_set(report, judged_as, page)
    if not report.quality.usable:
        raise typer.Exit(EXIT_UNFIT)


@exercises_app.callback()
def exercises(context: typer.Context) -> None:
    """List the exercises, or explain one."""
    if context.invoked_subcommand is None:
        from app.command.terminal import print_exercises
        from shared.exercise import exercise_names, find_exercise

        print_exercises([find_exercise(name) for name in exercise_names()])


@exercises_app.command("show")
def show(
    name: Annotated[str, typer.Argument(help="Name of an exercise, or path of a TOML file.")],
    checks: Annotated[
        bool, typer.Option("--checks", help="Every check with its limit, reason and source.")
    ] = False,
) -> None:
    """Explain one exercise in short: getting in and out, what to think of, how to film it."""
    from app.command.terminal import print_checks, print_exercise
    from shared.exercise import find_exercise

    (print_checks if checks else print_exercise)(find_exercise(name))


@exercises_app.command("card")
def card(
    name: Annotated[str, typer.Argument(help="Name of an exercise, or path of a TOML file.")],
    out: Annotated[Path, typer.Option(help="Where the PDF goes.")] = Path("card.pdf"),
) -> None:
    """Draw the card for the wall beside the machine: one A4 page as PDF."""
    from app.page.wall_card import write_card
    from shared.exercise import find_exercise

    write_card(find_exercise(name), out)
    typer.echo(f"Card: {out}")


def parse_subject(text: str) -> SubjectPoint:
    """``x,y`` or ``x,y@t`` as a point; UsageError for anything else."""
    from shared.errors import UsageError
    from vision.seeing.subject import SubjectPoint

    number = r"(\d+(?:\.\d+)?)"
    match = re.fullmatch(rf"\s*{number}\s*,\s*{number}\s*(?:@\s*{number}\s*s?\s*)?", text, re.ASCII)
    if match is None:
        raise UsageError(
            f"--subject {text!r} is no point; write x,y@t, such as 540,900@2.5 (pixels, then seconds)."
        )
    x, y, t = match.groups()
    return SubjectPoint(float(x), float(y), float(t or 0))


def _one_or_two(clips: list[Path]) -> None:
    from shared.errors import UsageError

    if len(clips) > 2:
        raise UsageError("More than two clips were given; give one, or two of the same set.")
    if len(clips) == 2 and clips[0].absolute() == clips[1].absolute():
        raise UsageError(f"{clips[0].name} was given twice; give two clips of the same set from two sides.")


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
        return _say(*sentence_of(error))
    if code == EXIT_STOPPED:
        return _say("Stopped; no half-written file is left.", EXIT_STOPPED)
    return code if isinstance(code, int) else EXIT_OK


def _say(sentence: str, code: int) -> int:
    if sentence:
        typer.echo(f"plumbset: {sentence}", err=True)
    return code


if __name__ == "__main__":
    main()
