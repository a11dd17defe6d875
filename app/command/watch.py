"""``plumbset watch``: a folder in which clips and recordings land, each checked once it is whole."""

from __future__ import annotations

import shutil
import time
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.command.sets import Cards, Machine

if TYPE_CHECKING:
    from app.batches.watched import Check, Done

#: The folder is looked through so often, s.
EVERY_S = 5.0


def watch(
    folder: Annotated[Path, typer.Argument(help="Where clips and recordings land.", show_default=False)],
    out: Annotated[
        Path | None, typer.Option(help="Folder for the cuts and reports; made when missing.")
    ] = None,
    studio: Annotated[
        bool, typer.Option("--studio", help="Put sets in the page's store, under the members' names.")
    ] = False,
    exercise: Machine = None,
    cards: Cards = None,
) -> None:
    """Check every clip and recording that lands in a folder, until Ctrl+C; what lands there is only read.

    Goes on after a restart where it was, and takes nothing twice. With --studio only sets of members with a
    card are kept, and those are checked by the page.
    """
    from shared.errors import UsageError

    if (out is None) == (not studio):
        raise UsageError(
            "Say where sets go: --out for a folder of results, or --studio for the page's store."
        )
    if studio and cards is not None:
        raise UsageError("With --studio the cards printed on the page count; leave --cards out.")
    if out is not None:
        _into_folder(folder, out, exercise, cards)
    else:
        _into_studio(folder, exercise)


def _into_folder(folder: Path, out: Path, exercise: str | None, cards: Path | None) -> None:
    """Cuts and reports go to a folder."""
    from app.batches.results import stem_of
    from app.batches.watched import Done
    from app.command.recordings import SETS, check_recording
    from app.command.sets import FACES, asked, clock, lines
    from app.command.terminal import say_steps
    from shared.errors import UsageError

    if out.absolute() == folder.absolute():
        raise UsageError(
            "--out is the watched folder itself, where cuts would be checked again; choose another."
        )
    wanted = asked(exercise, cards)

    def check(path: Path, sha256: str) -> Done:
        target = out / f"{stem_of(path.name)}-{sha256[:10]}"
        if (target / SETS).exists():  # written last: only its line in the journal was missing
            return Done(f"{path.name} was checked before. {target.name}", target.name)
        shutil.rmtree(target, ignore_errors=True)  # of a check that was stopped
        with say_steps() as say:
            file = check_recording(path, wanted, target, say, lines())
        sets = "1 set" if len(file.sets) == 1 else f"{len(file.sets)} sets"
        return Done(f"{path.name}: {sets} in {clock(file.duration_s)}. {target.name}", target.name)

    typer.echo(FACES)
    _go_on(folder, out, check)


def _into_studio(folder: Path, exercise: str | None) -> None:
    """Sets go to the page's store; nothing else is left on the disk but which recordings were taken."""
    from app.batches.watched import Done
    from app.command.store import opened_store
    from app.command.studio_sets import FOLDER, Studio, clear_work, take_recording, work_name
    from app.command.terminal import say_steps
    from shared.exercise import find_exercise

    named = None if exercise is None else find_exercise(exercise)
    with opened_store() as (database, files, settings):
        place = Studio(database, files, work_name(folder), exercise=named, tell=typer.echo)
        clear_work(files, place.work)

        def check(path: Path, sha256: str) -> Done:
            with say_steps() as say:
                return Done(take_recording(place, path, sha256, say))

        _go_on(folder, settings.data / FOLDER, check)


def _go_on(folder: Path, journal: Path, check: Check) -> None:
    """Look through the folder again and again, until Ctrl+C."""
    from app.batches.watched import Watched
    from vision.common.cautions import SHORT_CAUTION

    watched = Watched(folder, journal, check, typer.echo)
    typer.echo(f"Watching {folder}. Stop with Ctrl+C.")
    typer.echo(SHORT_CAUTION)
    try:
        while True:
            watched.turn()
            time.sleep(EVERY_S)
    except KeyboardInterrupt:
        typer.echo("Stopped. What was being checked is begun anew next time.")
