"""The list of deliberate faults does not rot, and its runner tells what is noticed from what is not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.faults import ROOT, Fault, misplaced, passing, read, survived


def test_every_old_text_stands_once_and_every_named_test_is_there() -> None:
    wrong = {(fault.file, fault.old): list(misplaced(fault, ROOT)) for fault in read()}
    assert {place: said for place, said in wrong.items() if said} == {}


def test_the_list_is_long_and_no_fault_stands_twice() -> None:
    faults = read()
    assert len(faults) >= 60
    assert len({(f.file, f.old, f.new) for f in faults}) == len(faults)
    assert all(f.old != f.new and f.why for f in faults)


GOOD = Fault("product.py", "35", "60", "why", ("test_product.py::test_looks",))


@pytest.fixture
def tree(tmp_path: Path) -> Path:
    """A product of one line, with a test that looks at it and one that looks away."""
    (tmp_path / "product.py").write_text("LIMIT = 35\n", encoding="utf-8")
    tests = (
        "from product import LIMIT\n"
        "def test_looks():\n    assert LIMIT == 35\n"
        "def test_looks_away():\n    assert LIMIT > 0\n"
        "def test_is_broken():\n    assert LIMIT == 0\n"
    )
    (tmp_path / "test_product.py").write_text(tests, encoding="utf-8")
    return tmp_path


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, []),
        ({"old": "36"}, ["the old text stands 0 times in product.py, not once"]),
        ({"file": "gone.py"}, ["the old text stands 0 times in gone.py, not once"]),
        ({"tests": ("test_product.py::test_gone",)}, ["there is no test test_product.py::test_gone"]),
        ({"tests": ()}, ["names no test"]),
    ],
)
def test_an_entry_that_fits_nothing_is_told(tree: Path, changes: dict[str, Any], said: list[str]) -> None:
    assert list(misplaced(replace(GOOD, **changes), tree)) == said


def test_every_named_test_must_pass_before_and_fail_after(tree: Path) -> None:
    named = [f"test_product.py::test_{what}" for what in ("looks", "looks_away", "is_broken")]
    assert passing(tree, named, jobs=1) == set(named[:2])
    assert list(survived(replace(GOOD, tests=tuple(named[:2])), tree)) == [f"SURVIVED {named[1]}"]
    (broken,) = survived(replace(GOOD, new="35 +"), tree)
    assert broken.startswith("breaks the run itself")
    assert (tree / "product.py").read_text(encoding="utf-8") == "LIMIT = 35\n"
