"""``plumbset cases``: a studio's reviewed sets as numbers, and what another version makes of them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from rich.table import Table

    from app.rules.case_score import Change, Score

#: So many single findings are printed; the table counts them all.
MOST_LINES = 40
HONEST = (
    "Not judged anew, as the clip is needed: the count, whether the clip is fit, what was hidden or not seen "
    "from that side, and checks on marks of the machine.{checks}"
)
#: What each change means for a flag, as a column and as a sentence.
HEADS: dict[Change, str] = {
    "kept": "right, still flagged", "lost": "right, lost now", "found": "missed, found now",
    "open": "missed, still so", "gone": "wrong, gone now", "stays": "wrong, still flagged",
    "raised": "called no fault, flagged now", "new": "new, nobody spoke of it",
}  # fmt: skip
WORDS: dict[Change, str] = {
    "lost": "was right, is not flagged any more", "found": "was missed, is flagged now",
    "gone": "was no fault, is not flagged any more", "raised": "was no fault, is flagged now",
    "new": "is flagged now, nobody has spoken of it",
}  # fmt: skip
cases_app = typer.Typer(help="Reviewed sets as numbers: export them, judge them anew.")


def register(cli: typer.Typer) -> None:
    """Add the command to the command line."""
    cli.add_typer(cases_app, name="cases")


@cases_app.callback(invoke_without_command=True)
def cases(
    context: typer.Context,
    out: Annotated[Path, typer.Option(help="The archive to write.")] = Path("cases.zip"),
) -> None:
    """Write what trainers agreed with, reworded, called no fault or added as missed: numbers only."""
    if context.invoked_subcommand is not None:
        return
    from app.command.store import opened_store
    from app.store.case_files import export_cases

    with opened_store() as (database, files, _):
        done = export_cases(database, files, out)
    typer.echo(f"{done.cases} reviewed sets in {out}: numbers only, no picture, no name, no day.")
    if done.without_signals:
        typer.echo(f"{done.without_signals} more are left out: their signals are not kept.")


@cases_app.command("score")
def score(
    archive: Annotated[Path, typer.Argument(help="What plumbset cases has written.")],
    exercise: Annotated[
        str | None, typer.Option(help="Judge by this definition: the path of a TOML file.", metavar="FILE")
    ] = None,
) -> None:
    """Judge the sets of an archive anew from their signals, and print what changed."""
    from app.rules.case_score import Score, changed_signals, score_case
    from app.rules.words import exercise_of
    from app.store.case_files import read_cases
    from shared.exercise import find_exercise

    given = None if exercise is None else find_exercise(exercise)
    otherwise = set() if given is None else changed_signals(given, exercise_of(given.name))
    found, others = Score(), 0
    for name, case, traces in read_cases(archive):
        definition = given or exercise_of(case.exercise)
        if definition is None or case.exercise != definition.name:
            others += 1
        else:
            score_case(case, traces, definition, name, found, otherwise)
    print_score(found, others)


def print_score(found: Score, others: int) -> None:
    """What changed by check and finding by finding, and what cannot be told; others: sets left aside."""
    from rich.console import Console
    from rich.text import Text

    from app.rules.words import title_of

    console = Console(highlight=False)
    aside = f" {others} of other machines were left aside." if others else ""
    console.print(Text(f"{_counted(found.cases, 'reviewed set')} judged anew.{aside}", "bold"))
    console.print(_table(found))
    for one in found.moved[:MOST_LINES]:
        where = "whole set" if one.rep is None else f"repetition {one.rep}"
        said = f"{one.case}  {title_of(one.exercise)}, {one.check}, {where}: {WORDS[one.change]}"
        console.print(Text(said))
    if len(found.moved) > MOST_LINES:
        console.print(Text(f"and {len(found.moved) - MOST_LINES} more", "dim"))
    for line in _beside(found):
        console.print(Text(line, "dim"))


def _table(found: Score) -> Table:
    """A row for each machine and check of which a trainer spoke or whose flags changed."""
    from rich import box
    from rich.table import Table

    from app.rules.words import title_of

    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("machine", "check"):
        table.add_column(name)
    for change in HEADS:
        table.add_column(HEADS[change], justify="right")
    for (exercise, check), counts in sorted(found.changes.items()):
        table.add_row(title_of(exercise), check, *(str(counts[change] or "") for change in HEADS))
    return table


def _beside(found: Score) -> Iterator[str]:
    """What the numbers do not cover."""
    if found.counts_wrong:
        yield f"{_counted(found.counts_wrong, 'set')} had been counted wrong; counting needs the clip."
    if found.unnamed:
        what = _counted(found.unnamed, "missed fault")
        yield f"{what} without a check named; name it on the page, Studio, Found and missed."
    checks = ", ".join(f"{check} ({n})" for check, n in sorted(found.cannot.items()))
    yield HONEST.format(checks=f" Findings left out: {checks}." if checks else "")


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
