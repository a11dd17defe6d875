"""A set, or an exercise, on the terminal. What people wrote is printed as it is, never as markup."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import typer
from rich import box
from rich.console import Console
from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from app.command.json_lines import JsonLines
from shared.exercise import CheckSpec, Exercise
from shared.report import FindingPart, RepPart, SetReport
from vision.common.cautions import SHORT_CAUTION, three_cautions
from vision.judging.evidence import VIEW
from vision.telling.cues import another_machine, cues, headline, praise
from vision.telling.groups import groups, unseen
from vision.telling.words import (
    HOW_PIVOT,
    bound_words,
    counted,
    definition_limit,
    found_words,
    machine_lines,
    when_words,
)

if TYPE_CHECKING:
    from app.jobs.contained import Say
    from vision.telling.first_look import FirstLook

Step = Callable[[str], Callable[[float], None]]

#: The note on the knee's alignment, where it can be said how.
_HOW_PIVOT = "Knee alignment not checked. To check it, mark the machine's axis: --mark pivot=x,y@seconds"
_WORDS = {"flag": "flagged", "watch": "to watch", "cannot-tell": "cannot tell"}
_STYLE = {"flag": "bold red", "watch": "yellow", "cannot-tell": "dim"}


@contextmanager
def steps() -> Iterator[Step]:
    """A progress bar a step on stderr, gone when done; silent where stderr is no terminal."""
    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as progress:

        def step(name: str) -> Callable[[float], None]:
            task = progress.add_task(name, total=1.0)
            return lambda share: progress.update(task, completed=share)

        yield step


@contextmanager
def say_steps() -> Iterator[Say]:
    """``steps`` for whoever says ``(step, share)``; nothing is started before something is said."""
    told: dict[str, Callable[[float], None]] = {}
    step: Step | None = None
    with ExitStack() as stack:

        def say(name: str, share: float, _: FirstLook | None = None, /) -> None:
            nonlocal step
            step = step or stack.enter_context(steps())
            if name not in told:
                told[name] = step(name)
            told[name](share)

        yield say


@contextmanager
def say_progress(form: Literal["bar", "json"]) -> Iterator[tuple[Say, Callable[[SetReport], None]]]:
    """What is told while a check runs, and once of its report when it is over."""
    if form == "json":
        lines = JsonLines(lambda line: typer.echo(line, err=True))
        yield lines, lines.done
        return
    with say_steps() as say:
        yield say, lambda report: None


def print_set(report: SetReport, exercise: Exercise, page: Path) -> None:
    """The verdict, the repetitions, the flagged moments, the cautions in short, and the page's path."""
    console = Console(highlight=False)
    for notice in report.notices:
        console.print(Text(notice, "bold red"))
    console.print(Text(f"{exercise.title}: {headline(report)}", "bold"))
    if report.quality.usable:
        _print_judged(console, report, exercise)
    else:
        _print_unfit(console, report, exercise)
    console.print()
    console.print(Text(SHORT_CAUTION))
    console.print(Text(f"Report: {page}", no_wrap=True), soft_wrap=True)


def _print_judged(console: Console, report: SetReport, exercise: Exercise) -> None:
    best = "" if another_machine(report) else praise(report)
    for said in (best, report.tempo.sentence if report.tempo else ""):
        if said:
            console.print(Text(said))
    console.print(_reps_table(report.reps, report.findings))
    shown = [f for f in report.findings if f.verdict in ("flag", "watch")]
    for finding in sorted(shown, key=lambda f: (f.verdict, f.time_s is None, f.time_s or 0.0)):
        _print_moment(console, finding, exercise=exercise, clip=report.clip.file)
    for group in cues(report):
        console.print(Text(f'Say: "{group.lead.prompt}"'))
    for line in machine_lines(report):
        console.print(Text(line))
    if HOW_PIVOT in report.quality.notes:
        console.print(Text(_HOW_PIVOT, "dim"))
    for words in unseen(report):
        console.print(Text(words, "dim"))
    unknown = [group.title for group in groups(report, exercise, "cannot-tell")]
    if unknown:
        console.print(
            Text(f"Cannot tell everywhere: {', '.join(unknown).lower()}; the report says why.", "dim")
        )


def _print_unfit(console: Console, report: SetReport, exercise: Exercise) -> None:
    for problem in report.quality.problems:
        console.print(Text(problem.text, "red"))
    for view in exercise.views:
        console.print(Text(f"Film from the {view.name}: {view.film}"))
    if report.unjudged:
        console.print(Text(f"Followed but not judged: {counted(report.unjudged.count, 'rep')}."))
        console.print(_reps_table(report.unjudged.reps, []))


def _reps_table(reps: Sequence[RepPart], findings: Sequence[FindingPart]) -> Table:
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("no.", "from", "to", "lift", "hold", "lower", "rest"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("what stands out")
    for rep in reps:
        times = [f"{rep.start_s:.1f} s", f"{rep.end_s:.1f} s"]
        phases = [f"{seconds:.1f}" for seconds in (rep.lift_s, rep.hold_s, rep.lower_s)]
        rest = "" if rep.rest_s is None else f"{rep.rest_s:.1f}"
        table.add_row(str(rep.number), *times, *phases, rest, _stands_out(rep, findings))
    return table


def _stands_out(rep: RepPart, findings: Sequence[FindingPart]) -> Text:
    """What is found in one repetition; what the view shows in none is told once, below the table."""
    text = Text("short, not counted", "dim") if rep.partial else Text()
    for verdict, word in _WORDS.items():
        titles = [
            (f.title or f.check).lower()
            for f in findings
            if f.rep == rep.number and f.verdict == verdict and f.reason_code != VIEW
        ]
        if titles:
            text.append("; " if text else "")
            text.append(f"{word}: {', '.join(titles)}", _STYLE[verdict])
    return text


def _print_moment(console: Console, finding: FindingPart, exercise: Exercise, clip: str) -> None:
    spec = next((c for c in exercise.checks if c.id == finding.check), None)
    where = "Whole set" if finding.rep is None else f"Repetition {finding.rep}"
    when = when_words(finding, clip)
    when = f" {when}" if when else ""
    line = Text(f"{_WORDS[finding.verdict].capitalize()}. ", _STYLE[finding.verdict])
    limit = bound_words(finding.limit, finding.unit, spec)
    line.append(f"{where}{when}: {finding.title.lower()}{found_words(finding, limit, ', ')}", "default")
    console.print(line)


def print_exercises(exercises: Sequence[Exercise]) -> None:
    """Every exercise with its views and what it trains."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for name in ("name", "film from the", "trains"):
        table.add_column(name, no_wrap=name == "name")
    for exercise in exercises:
        views = " or ".join(view.name for view in exercise.views)
        table.add_row(Text(exercise.name), Text(views), Text(exercise.trains))
    Console(highlight=False).print(table)


def print_exercise(exercise: Exercise) -> None:
    """One exercise in short: how to film it, to get in and out, what to think of and what is checked."""
    console = Console(highlight=False)
    low, high = exercise.target_reps
    console.print(Text(exercise.title, "bold"))
    console.print(Text(f"Trains: {exercise.trains}. Target: {low} to {high} slow reps."))
    _print_lines(console, "Getting in", exercise.setup)
    _print_lines(console, "While you lift", exercise.cues)
    _print_lines(console, "Getting out", exercise.getting_out)
    _print_lines(console, "Take care", three_cautions(exercise))
    for view in exercise.views:
        _print_lines(console, f"Film from the {view.name}", [view.film])
    _print_lines(console, "Checked", [", ".join(spec.title.lower() for spec in exercise.checks)])
    console.print(Text("\nEvery check with its limit, reason and source: --checks", "dim"))


def _print_lines(console: Console, heading: str, lines: Sequence[str]) -> None:
    if lines:
        console.print(Text(f"\n{heading}", "bold"))
    for line in lines:
        lead = "- " if len(lines) > 1 else ""
        wide = console.width - 1
        console.print(Text(textwrap.fill(line, wide, initial_indent=lead, subsequent_indent=" " * len(lead))))


def print_checks(exercise: Exercise) -> None:
    """What counts, and every check with its limit, reason and source."""
    console = Console(highlight=False)
    way = "opens" if exercise.drive.lift == "rising" else "closes"
    console.print(Text(f"{exercise.title}: what is checked", "bold"))
    console.print(Text(f"Counted by the {exercise.drive.signal}: the angle {way} as the load goes up."))
    for spec in exercise.checks:
        _print_check(console, spec)


def _print_check(console: Console, spec: CheckSpec) -> None:
    views = "" if len(spec.views) == 3 else f", seen from the {' or '.join(spec.views)}"
    title = Text(f"{spec.title}", "bold")
    title.append(f" ({spec.id})  {definition_limit(spec)}{views}", "default")
    console.print(title)
    for line in (spec.what, spec.why, f"Limit from: {spec.source.cite}."):
        console.print(
            Text(textwrap.fill(line, console.width - 4, initial_indent="  ", subsequent_indent="  "))
        )
