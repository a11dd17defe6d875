"""``plumbset tags``: sheets to print for one machine."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def tags(
    machine: Annotated[str, typer.Option(help="Name of an exercise, or path of a TOML file of your own.")],
    out: Annotated[Path, typer.Option(help="Where the PDF goes.")] = Path("tags.pdf"),
) -> None:
    """Draw the printed tags for one machine: where to stick them, tags to cut out, the frame board."""
    from app.page.tag_sheets import write_tags
    from shared.exercise import find_exercise

    write_tags(find_exercise(machine), out)
    typer.echo(f"Tags: {out} (print at 100 %, and check the bar of 10 cm)")
