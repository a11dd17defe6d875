"""``plumbset framing``: one picture before the set in, whether the framing will do out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from app.reading.failures import EXIT_UNFIT


def framing(
    picture: Annotated[Path, typer.Argument(help="A photo taken from where the phone will film.")],
    exercise: Annotated[str, typer.Option(help="Name of an exercise, or path of a TOML file of your own.")],
) -> None:
    """Say before the set whether the phone stands well: light, whole limbs in the picture, the view."""
    from app.page.still import LARGEST_MB, ONE_MOMENT, problems_of
    from shared.definition import read_bounded
    from shared.exercise import find_exercise

    definition = find_exercise(exercise)
    found = problems_of(read_bounded(picture, LARGEST_MB * 1_000_000, "photo"), exercise)
    for sentence in found:
        typer.echo(f"- {sentence}")
    if found:
        typer.echo("How to film it: " + " Or: ".join(view.film for view in definition.views))
        raise typer.Exit(EXIT_UNFIT)
    typer.echo(f"The framing will do for {definition.title.lower()}.")
    typer.echo(ONE_MOMENT)
