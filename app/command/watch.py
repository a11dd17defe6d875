"""``plumbset watch``: a folder in which clips and recordings land, each checked once it is whole."""

from __future__ import annotations

import shutil
import time
from pathlib import Path
from typing import Annotated

import typer

from app.command.sets import Cards, Machine

#: The folder is looked through so often, s.
EVERY_S = 5.0


def watch(
    folder: Annotated[Path, typer.Argument(help="Where clips and recordings land.", show_default=False)],
    out: Annotated[Path, typer.Option(help="Folder for the cuts and reports; made when missing.")],
    exercise: Machine = None,
    cards: Cards = None,
) -> None:
    """Check every clip and recording that lands in a folder, until Ctrl+C; what lands there is only read.

    Goes on after a restart where it was, and checks nothing twice.
    """
    from app.batches.watched import Watched
    from app.command.recordings import SETS, check_recording
    from app.command.sets import asked, clock, lines
    from app.command.terminal import say_steps
    from shared.errors import UsageError
    from vision.common.prompts import SHORT_CAUTION

    if out.absolute() == folder.absolute():
        raise UsageError(
            "--out is the watched folder itself, where cuts would be checked again; choose another."
        )
    wanted = asked(exercise, cards)

    def check(path: Path, target: Path) -> str:
        if (target / SETS).exists():  # written last: only its line in the journal was missing
            return f"{path.name} was checked before. {target.name}"
        shutil.rmtree(target, ignore_errors=True)  # of a check that was stopped
        with say_steps() as say:
            file = check_recording(path, wanted, target, say, lines())
        sets = "1 set" if len(file.sets) == 1 else f"{len(file.sets)} sets"
        return f"{path.name}: {sets} in {clock(file.duration_s)}. {target.name}"

    watched = Watched(folder, out, check, typer.echo)
    typer.echo(f"Watching {folder}. Stop with Ctrl+C.")
    typer.echo(SHORT_CAUTION)
    try:
        while True:
            watched.turn()
            time.sleep(EVERY_S)
    except KeyboardInterrupt:
        typer.echo("Stopped. What was being checked is begun anew next time.")
