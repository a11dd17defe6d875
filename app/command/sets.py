"""``plumbset sets``: every set in a recording of minutes to hours, cut out and checked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.reading.failures import EXIT_UNFIT

if TYPE_CHECKING:
    from app.command.recordings import Asked, Watcher
    from shared.recording import PassedPart, SetPart, SetsFile

#: Said wherever cuts are kept.
FACES = "The cuts show faces, as the recording does: delete each set-NN.mp4 before you pass the folder on."

Recording = Annotated[Path, typer.Argument(help="A recording of one machine, up to two hours.")]
Machine = Annotated[
    str | None,
    typer.Option(
        help="The machine, as for check; its printed tags go first, and without either it is guessed.",
        show_default=False,
    ),
]
Cards = Annotated[
    Path | None,
    typer.Option(help="Register of members' cards, as plumbset cards wrote it.", show_default=False),
]


def sets(
    recording: Recording,
    out: Annotated[Path, typer.Option(help="Folder for the cuts and reports; made when missing.")],
    exercise: Machine = None,
    cards: Cards = None,
) -> None:
    """Find every set in a recording, cut each out with five seconds or more about it, and check it.

    The recording is only read. Ends with 0 when every set was judged, with 3 when some could not be.
    """
    from app.command.recordings import check_recording
    from app.command.terminal import say_steps

    with say_steps() as say:
        file = check_recording(recording, asked(exercise, cards), out, say, lines())
    close(file, out)
    if any(one.problem for one in file.sets):
        raise typer.Exit(EXIT_UNFIT)


def asked(exercise: str | None, cards: Path | None) -> Asked:
    """What was said on the command line, its files read."""
    from app.command.recordings import Asked
    from app.reading.card_register import read_register
    from shared.exercise import find_exercise

    named = None if exercise is None else find_exercise(exercise)
    return Asked(named, {} if cards is None else read_register(cards))


def lines() -> Watcher:
    """A line for each set, and for what was passed over, as soon as it is known."""
    from app.command.recordings import Watcher

    return Watcher(
        found=lambda found: typer.echo(
            f"{clock(found.duration_s)} long, something moved in {clock(found.stirred_s)} of it; "
            f"{len(found.sets)} to look at closely."
        ),
        one=lambda one: typer.echo(set_line(one)),
        passed=lambda one: typer.echo(passed_line(one)),
    )


def set_line(one: SetPart) -> str:
    """One set on one line."""
    from vision.telling.words import counted

    machine = "machine unknown" if one.exercise is None else f"{one.exercise} ({one.sure})"
    count = "not judged" if one.count is None else counted(one.count, "rep")
    who = f"{one.who} (by card)" if one.who_by == "card" else one.who
    said = f"Set {one.number}: {clock(one.start_s)} to {clock(one.end_s)}, {who}, {machine}, {count}"
    return f"{said}. {one.problem}" if one.problem else f"{said}."


def passed_line(one: PassedPart) -> str:
    """What was looked at and is no set, on one line."""
    return f"No set: {clock(one.start_s)} to {clock(one.end_s)}. {one.why}"


def clock(seconds: float) -> str:
    """A moment or a length as hours, minutes and seconds: 0:03:12."""
    whole = int(seconds)
    return f"{whole // 3600}:{whole // 60 % 60:02d}:{whole % 60:02d}"


def close(file: SetsFile, out: Path) -> None:
    """What is said once all is done, with the cautions in short and what was kept of whom."""
    from app.command.recordings import SETS
    from vision.common.cautions import SHORT_CAUTION

    if not file.sets:
        typer.echo("No set was found.")
    if any(one.who_by == "unknown" for one in file.sets):
        typer.echo("Cuts of people without a card are kept here as well; delete those nobody agreed to.")
    if file.sets:
        typer.echo(FACES)
    typer.echo(SHORT_CAUTION)
    typer.echo(f"Sets: {out / SETS}")
