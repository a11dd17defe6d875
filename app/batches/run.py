"""Many clips through any ``concurrent.futures.Executor``: what is reported stays, what is not is checked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Executor, Future, as_completed
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path

from app.batches.clip import Check, ClipJob, ClipOutcome, check_one, digest_of, judge
from app.batches.list import Entry
from app.batches.pages import Row, failed, judged, waiting, write_pages
from app.batches.results import Results, folder_name
from app.jobs.contained import OURS

LOST = "The workers lost this clip before it was checked; run the same command again."
WITHOUT = "The workers do not know Plumbset; install the version of this machine there."


@dataclass(frozen=True)
class Watcher:
    """Who is told: first how many were reported before and how many there are to check, then each row."""

    begin: Callable[[int, int], None] = lambda before, total: None
    row: Callable[[Row], None] = lambda row: None


@dataclass
class Batch:
    """All rows in the order of the list; stopped: whether some were not reached."""

    rows: list[Row] = field(default_factory=list)
    stopped: bool = False

    def count(self, state: str) -> int:
        """How many rows are ``judged``, ``unfit``, ``failed`` or ``waiting``."""
        return sum(row.state == state for row in self.rows)


def run_batch(
    entries: Sequence[Entry],
    out: Path,
    executor: Executor,
    threads: int = 1,
    check: Check = judge,
    watcher: Watcher | None = None,
) -> Batch:
    """Check every clip that is not reported yet; then write summary and index.

    Ctrl+C ends what is under way (the executor's ``shutdown(wait=False)``), and both are still written.

    Raises
    ------
    UsageError : the folder cannot be written to.
    """
    release = version("plumbset")
    jobs = [
        ClipJob(
            folder_name(e), e.clip, exercise=e.exercise, options=e.options, threads=threads, version=release
        )
        for e in entries
    ]
    of = {job.name: entry for job, entry in zip(jobs, entries, strict=True)}
    watcher, results, batch = watcher or Watcher(), Results(out), Batch()
    rows: dict[str, Row] = {}
    try:
        for job in _unchanged(jobs, results, executor):
            if (report := results.report(job)) is not None:
                rows[job.name] = judged(of[job.name], job.name, report)
        left = [job for job in jobs if job.name not in rows]
        watcher.begin(len(rows), len(left))
        for job, outcome in _checked(left, executor, check):
            rows[job.name] = _kept(of[job.name], job, outcome=outcome, results=results)
            watcher.row(rows[job.name])
    except KeyboardInterrupt:
        batch.stopped = True
        executor.shutdown(wait=False)
    batch.rows = [rows.get(name) or waiting(entry) for name, entry in of.items()]
    write_pages(batch.rows, out)
    return batch


def _unchanged(jobs: Sequence[ClipJob], results: Results, executor: Executor) -> Iterator[ClipJob]:
    """The jobs whose clip is, byte for byte, the one that a whole result was made of."""
    recorded = [(job, clip) for job in jobs if (clip := results.recorded(job))]
    asked = {executor.submit(digest_of, job.clip): (job, clip) for job, clip in recorded}
    for future in as_completed(list(asked)):
        job, clip = asked.pop(future)
        try:
            if future.result() == clip:
                yield job
        except (CancelledError, Exception):  # noqa: BLE001 - then it is checked, and that says what is wrong
            continue


def _checked(
    jobs: Sequence[ClipJob], executor: Executor, check: Check
) -> Iterator[tuple[ClipJob, ClipOutcome]]:
    """Each job with what came of it, in the order in which they are done; none is held longer than needed."""
    asked: dict[Future[ClipOutcome], ClipJob] = {executor.submit(check_one, job, check): job for job in jobs}
    for future in as_completed(list(asked)):
        job = asked.pop(future)
        yield job, _outcome(job, future)


def _outcome(job: ClipJob, future: Future[ClipOutcome]) -> ClipOutcome:
    """What a worker handed back; a sentence where it was lost on the way."""
    try:
        return future.result()
    except CancelledError:
        return ClipOutcome(job.name, problem=LOST)
    except ModuleNotFoundError:
        return ClipOutcome(job.name, problem=WITHOUT)
    except Exception as error:  # noqa: BLE001 - whatever an executor raises costs one clip only
        return ClipOutcome(job.name, problem=LOST if "Killed" in type(error).__name__ else OURS)


def _kept(entry: Entry, job: ClipJob, outcome: ClipOutcome, results: Results) -> Row:
    if outcome.problem:
        return failed(entry, outcome.problem)
    results.keep(job, outcome)
    report = results.report(job)
    return failed(entry, OURS) if report is None else judged(entry, job.name, report)
