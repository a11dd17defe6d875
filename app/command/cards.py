"""``plumbset cards``: members' cards to print, and the register of whose they are."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def cards(
    names: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[NAME ... | NAMES.csv]",
            help="Members, or a table with a column name.",
            show_default=False,
        ),
    ] = None,
    out: Annotated[Path, typer.Option(help="Where the PDF goes.")] = Path("cards.pdf"),
    register: Annotated[
        Path, typer.Option(help="Table of numbers and names; who has no card yet is added.")
    ] = Path("cards.csv"),
) -> None:
    """Draw the cards of all members in the register: held to the phone, one says whose the next set is."""
    from app.page.member_cards import write_cards
    from app.reading.card_register import read_names, read_register, with_names, write_register
    from shared.errors import UsageError

    wanted = names or []
    if len(wanted) == 1 and wanted[0].lower().endswith(".csv"):
        wanted = read_names(Path(wanted[0]))
    given = with_names(read_register(register) if register.exists() else {}, wanted)
    if not given:
        raise UsageError("There is nobody to draw a card for; give names, or a table with a column name.")
    write_cards(given, out)
    write_register(register, given)
    typer.echo(f"Cards: {out} (print at 100 %)")
    typer.echo(f"Register: {register} (says whose each number is; keep it to the studio)")
