"""``make faults``: single changes to the product, each of which the tests that it names must notice.

``tests/faults.toml`` lists them. Each is made in a copy of the tree, where only its own tests are run.
"""

from __future__ import annotations

import argparse
import ast
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from queue import SimpleQueue

ROOT = Path(__file__).parents[1]
LIST = Path(__file__).with_name("faults.toml")
#: Neither the product nor its tests.
LEFT_OUT = shutil.ignore_patterns(".git", ".venv", ".*_cache", ".hypothesis", "result", "rendered", "build")
#: Tests that take longer hang, in s: they should take a second.
LONGEST_S = 300
#: Plugins of pytest that keep what is of no use here, or cost more than a test: two seconds of each run.
WITHOUT = ("-p", "no:cacheprovider", "-p", "no:hypothesispytest")
#: pytest's exit code where tests ran and some failed.
SOME_FAILED = 1


@dataclass(frozen=True)
class Fault:
    """In ``file``, ``old`` becomes ``new``; why it matters, and node ids of the tests that must notice."""

    file: str
    old: str
    new: str
    why: str
    tests: tuple[str, ...]


def read(path: Path = LIST) -> list[Fault]:
    """The list."""
    faults = tomllib.loads(path.read_text(encoding="utf-8"))["fault"]
    return [Fault(**{**fault, "tests": tuple(fault["tests"])}) for fault in faults]


def misplaced(fault: Fault, root: Path) -> Iterator[str]:
    """What is wrong with an entry that nothing need be run for: an old text or a test that is not there."""
    count = _text(root / fault.file).count(fault.old)
    if count != 1:
        yield f"the old text stands {count} times in {fault.file}, not once"
    if not fault.tests:
        yield "names no test"
    for test in fault.tests:
        file, _, function = test.partition("::")
        if function.partition("[")[0] not in _functions(_text(root / file)):
            yield f"there is no test {test}"


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.is_file() else ""


@cache
def _functions(text: str) -> set[str]:
    return {node.name for node in ast.parse(text).body if isinstance(node, ast.FunctionDef)}


class Run:
    """What became of tests in a tree. code: pytest's; lines: one for each, ``PASSED node id``."""

    def __init__(self, tree: Path, tests: Iterable[str], *options: str, changed: bool = True):
        command = [sys.executable, "-m", "pytest", "-q", "-rpfEs", "--tb=no", *WITHOUT]
        # A changed file must leave no bytecode behind that a later run could take for the unchanged one's.
        environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1"} if changed else None
        try:
            done = subprocess.run(
                [*command, *options, *tests], cwd=tree, env=environment, capture_output=True, text=True,
                check=False, timeout=LONGEST_S if changed else None,
            )  # fmt: skip
            self.code, self.lines = done.returncode, done.stdout.splitlines()
        except subprocess.TimeoutExpired:
            self.code, self.lines = -1, []

    def said(self, word: str, test: str) -> bool:
        """Whether a test, or one of its cases, passed, failed or could not be run: PASSED, FAILED, ERROR."""
        named = f"{word} {test}"
        return any(line == named or line.startswith((f"{named} ", f"{named}[")) for line in self.lines)


def passing(tree: Path, tests: Sequence[str], jobs: int) -> set[str]:
    """The tests that pass while nothing is changed. One case that is not there stops the run of all."""
    side_by_side = ["-n", str(jobs)] if jobs > 1 else []
    together = Run(tree, tests, "--continue-on-collection-errors", *side_by_side, changed=False)
    ran = together.code in (0, SOME_FAILED)
    runs = {test: together if ran else Run(tree, [test], changed=False) for test in tests}
    return {
        test
        for test, run in runs.items()
        if run.said("PASSED", test) and not run.said("FAILED", test) and not run.said("ERROR", test)
    }


def survived(fault: Fault, tree: Path) -> Iterator[str]:
    """Make the fault in a tree, run its tests, take it back; which of them did not notice."""
    path = tree / fault.file
    before, stat = path.read_text(encoding="utf-8"), path.stat()
    path.write_text(before.replace(fault.old, fault.new), encoding="utf-8")
    try:
        run = Run(tree, fault.tests)
    finally:
        path.write_text(before, encoding="utf-8")
        os.utime(path, ns=(stat.st_atime_ns, stat.st_mtime_ns))
    if run.code not in (0, SOME_FAILED):
        yield f"breaks the run itself (pytest's code {run.code}): a test must run and fail"
        return
    for test in fault.tests:
        if not run.said("FAILED", test):
            yield f"SURVIVED {test}"


def check(faults: Sequence[Fault], root: Path = ROOT, jobs: int = 2) -> Iterator[tuple[Fault, list[str]]]:
    """Each fault with what is wrong with it, nothing where all its tests notice; in the order of the list."""
    wrong = {fault: list(misplaced(fault, root)) for fault in faults}
    with tempfile.TemporaryDirectory(prefix="plumbset-faults-") as folder:
        trees: SimpleQueue[Path] = SimpleQueue()
        first = Path(shutil.copytree(root, Path(folder) / "0", ignore=LEFT_OUT))
        tests = sorted({test for fault in faults if not wrong[fault] for test in fault.tests})
        sound = passing(first, tests, jobs) if tests else set()
        for number in range(1, jobs):
            trees.put(Path(shutil.copytree(first, Path(folder) / str(number))))
        trees.put(first)

        def one(fault: Fault) -> list[str]:
            unsound = [f"does not pass without the fault: {t}" for t in fault.tests if t not in sound]
            if wrong[fault] or unsound:
                return wrong[fault] or unsound
            tree = trees.get()
            try:
                return list(survived(fault, tree))
            finally:
                trees.put(tree)

        with ThreadPoolExecutor(jobs) as pool:
            yield from zip(faults, pool.map(one, faults), strict=True)


def main(arguments: Sequence[str] | None = None) -> int:
    """The command; its exit code."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--only", type=int, nargs="+", metavar="N", help="numbers in the list, from 1")
    parser.add_argument("--jobs", type=int, default=2, help="faults tried side by side")
    given = parser.parse_args(arguments)
    listed = dict(enumerate(read(), 1))
    chosen = {number: listed[number] for number in given.only or listed}
    bad = 0
    for number, (fault, wrong) in zip(chosen, check(list(chosen.values()), jobs=given.jobs), strict=True):
        print(f"{number:3} {'noticed ' if not wrong else 'UNNOTICED'} {fault.file}: {fault.why}", flush=True)
        for said in wrong:
            print(f"      {said}")
        bad += bool(wrong)
    print(f"{len(chosen)} faults, {bad} of them not as they should be.")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
