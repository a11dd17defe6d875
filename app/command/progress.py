"""``plumbset progress``: a member's history of sets in, a question about the load out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from app.rules.load_settings import Settings
    from app.rules.progress import Advice


def progress(
    history: Annotated[
        Path,
        typer.Argument(
            help="CSV of one member's sets: date, exercise, load, unit, repetitions, flags, "
            "flags_dismissed, pain; felt and slowed where they are known.",
            show_default=False,
        ),
    ],
    settings: Annotated[
        Path | None,
        typer.Option(help="TOML file with your own rule, steps and target, in place of the studio's."),
    ] = None,
) -> None:
    """Ask whether past sets speak for more load; the trainer decides."""
    from rich.console import Console
    from rich.text import Text

    from app.rules.estimates import ESTIMATES_NOTE
    from app.rules.history import read_history
    from app.rules.progress import advise, first_load
    from vision.common.cautions import CAUTIONS

    chosen = load_settings(settings)
    found = advise(read_history(history), chosen)
    console = Console(highlight=False)
    if not found:
        console.print(Text(f"{history.name} holds no set yet. {first_load('', chosen)}"))
    for advice in found:
        _print_advice(console, advice)
    sources = dict.fromkeys(source for a in found for source in a.sources)
    if sources:
        console.print(Text("Where the rule comes from", "bold"))
    for source in sources:
        console.print(Text(f"- {source}."))
    if any(a.answer != "ask-trainer" for a in found):
        _print_table(console)
        console.print(Text(ESTIMATES_NOTE))
    console.print(Text("\nTake care", "bold"))
    for caution in CAUTIONS:
        console.print(Text(f"- {caution}"))


def load_settings(path: Path | None) -> Settings:
    """The settings of a TOML file, else of the studio's file; DefinitionError names file and key."""
    from app.rules.load_settings import Settings
    from app.rules.studio_file import read_studio
    from app.store.settings import data_folder
    from shared.definition import checked, read_toml

    if path is None:
        return read_studio(data_folder()).load
    return checked(Settings, read_toml(path), path)


def _print_advice(console: Console, advice: Advice) -> None:
    from rich.text import Text

    last = advice.last
    head = f"{last.exercise}: {last.repetitions} at {last.load:g} {last.unit} on {last.day.isoformat()}"
    console.print(Text(head, "bold"))
    console.print(Text(advice.words, "bold red" if advice.answer == "ask-trainer" else ""))
    for note in advice.notes:
        console.print(Text(f"- {note}"))
    console.print()


def _print_table(console: Console) -> None:
    from rich import box
    from rich.table import Table

    from app.rules.estimates import percent_table

    title = "Percent of the one-repetition maximum, estimates"
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, title=title)
    for name in ("repetitions", "NSCA (from memory)", "Epley", "Brzycki"):
        table.add_column(name, justify="right")
    for reps, nsca, epley, brzycki in percent_table():
        table.add_row(str(reps), str(nsca), f"{epley:.1f}", f"{brzycki:.1f}")
    console.print(table)
