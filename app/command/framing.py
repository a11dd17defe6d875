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
    from app.page.still import ONE_MOMENT, problems_of
    from shared.errors import ClipError
    from shared.exercise import find_exercise

    definition = find_exercise(exercise)
    try:
        data = picture.read_bytes()
    except OSError as error:
        raise ClipError(f"{picture.name} cannot be read ({error.strerror}); name a photo.") from error
    found = problems_of(data, exercise)
    for sentence in found:
        typer.echo(f"- {sentence}")
    if found:
        typer.echo("How to film it: " + " Or: ".join(view.film for view in definition.views))
        raise typer.Exit(EXIT_UNFIT)
    typer.echo(f"The framing will do for {definition.title.lower()}.")
    typer.echo(ONE_MOMENT)
