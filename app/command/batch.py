"""``plumbset batch``: many clips, one report each, a table and a page over all of them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.reading.failures import EXIT_STOPPED, EXIT_UNFIT

if TYPE_CHECKING:
    from app.batches.run import Batch, Watcher


def batch(
    source: Annotated[
        Path,
        typer.Argument(
            metavar="FOLDER_OR_CSV", help="A folder of clips, or a list of them as CSV.", show_default=False
        ),
    ],
    out: Annotated[Path, typer.Option(help="Folder for the reports; made when missing.")],
    exercise: Annotated[
        str | None, typer.Option(help="The exercise of every clip in the folder, as for check.")
    ] = None,
    proof: Annotated[
        Path | None,
        typer.Option(help="proof-numbers.json of plumbset proof: tell nothing more surely than it allows."),
    ] = None,
    jobs: Annotated[
        int | None,
        typer.Option(help="Clips checked at the same time; one a core if not given.", min=1, max=256),
    ] = None,
    scheduler: Annotated[
        str | None, typer.Option(help="Address of a Dask scheduler whose workers check the clips.")
    ] = None,
    allow_remote: Annotated[
        bool, typer.Option("--allow-remote", help="Fetch the clips that a list names by URL.")
    ] = False,
) -> None:
    """Check many clips: a folder, or a list with columns clip and exercise. Run again to go on.

    Ends with 0 when every clip was judged, with 3 when some could not be; the summary says why.
    """
    from app.batches.list import entries_in, read_list, with_proof
    from app.batches.run import run_batch
    from app.jobs.pools import cluster_pool, local_pool
    from shared.errors import UsageError
    from shared.proof import read_proof

    if scheduler is not None and jobs is not None:
        raise UsageError("--jobs is for this machine; a cluster's workers say themselves how many they take.")
    if source.is_dir():
        entries = entries_in(source, exercise)
    elif exercise is not None:
        raise UsageError("--exercise is for a folder; a list names the exercise of each clip.")
    else:
        entries = read_list(source, allow_remote)
    if proof is not None:
        entries = with_proof(entries, read_proof(proof))
    workers = jobs or _cores()
    pool = local_pool(workers) if scheduler is None else cluster_pool(scheduler)
    with pool as executor, _bar() as watcher:
        threads = 2 if scheduler is None and workers == 1 else 1
        done = run_batch(entries, out, executor=executor, threads=threads, watcher=watcher)
    _print(done, out)
    if done.stopped:
        raise typer.Exit(EXIT_STOPPED)
    if done.count("judged") < len(done.rows):
        raise typer.Exit(EXIT_UNFIT)


def _cores() -> int:
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on every system
        return os.cpu_count() or 1


@contextmanager
def _bar() -> Iterator[Watcher]:
    """A line for each clip that is done, and under them a bar with the time left; both on stderr."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
    from rich.text import Text

    from app.batches.run import Watcher

    console = Console(stderr=True, highlight=False)
    columns = (TextColumn("Clips"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(
        *columns, console=console, transient=True, disable=not console.is_terminal, speed_estimate_period=1e6
    ) as progress:
        task = progress.add_task("Clips", total=None)

        def begin(before: int, total: int) -> None:
            progress.update(task, total=total)
            if before:
                were = "clip was" if before == 1 else "clips were"
                console.print(f"{before} {were} reported before; nothing was changed there.")

        def row(shown: str, said: str) -> None:
            console.print(Text(f"{shown}: {said}", no_wrap=True), soft_wrap=True)
            progress.advance(task)

        yield Watcher(begin, lambda r: row(r.shown, r.said))


def _print(done: Batch, out: Path) -> None:
    from app.batches.pages import INDEX, counts
    from vision.common.cautions import SHORT_CAUTION

    typer.echo(counts(done.rows))
    if done.stopped:
        typer.echo("What was reported is kept; the same command goes on from here.")
    elif done.count("failed"):
        typer.echo("The same command tries those that failed once more.")
    typer.echo(SHORT_CAUTION)
    typer.echo(f"Reports: {out / INDEX}")
