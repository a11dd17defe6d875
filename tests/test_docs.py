"""README and docs: short where promised, and every link, path, command and option in them is there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from app.cli import app
from shared.faults import FLAG_CERTAINTY

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
MOST_LINES, MOST_BYTES = 150, 200_000
ROOMS = ("app", "docs", "requirements", "sample_clips", "shared", "tests", "vision")
page = pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)


def _links(text: str) -> list[str]:
    found = re.findall(r"\]\(([^)#\s]+)[^)]*\)", text)
    return [link for link in found if "://" not in link]


def _paths(text: str) -> list[str]:
    """Files of the project that a text names in backticks, such as ``vision/pipeline.py: analyse``."""
    return re.findall(rf"`((?:{'|'.join(ROOMS)})/[\w/.-]+\.[a-z]+)(?::[^`]*)?`", text)


def _modules(text: str) -> list[tuple[str, str]]:
    """Modules that a text names in backticks by their last part, and a name in them or nothing."""
    return re.findall(r"`(?:[\w/.-]*/)?([\w-]+\.py)(?:: (\w+))?`", text)


def _there(module: str, name: str) -> bool:
    """Whether some module is called so and defines the name, if there is one."""
    files = [path for room in ROOMS for path in (ROOT / room).rglob(module)]
    defined = re.compile(rf"^(?:def|class) {name}\b|^{name}\b.*=", re.MULTILINE)
    return any(not name or defined.search(path.read_text(encoding="utf-8")) for path in files)


def _unknown(words: list[str]) -> list[str]:
    """What of a ``plumbset`` command line its own help does not know: a command, or options."""
    command = typer.main.get_command(app)
    while words and hasattr(command, "commands"):
        if words[0].startswith("-"):
            break
        if words[0] not in command.commands:
            return [words[0]] if re.fullmatch(r"[a-z-]+", words[0]) else []
        command, words = command.commands[words[0]], words[1:]
    known = {"--help"} | {name for option in command.params for name in option.opts + option.secondary_opts}
    return [word for word in words if word.startswith("--") and word not in known]


def _commands(text: str) -> list[list[str]]:
    """The command lines of ``plumbset`` in code blocks and in backticks, comments and values dropped."""
    blocks = re.findall(r"^```\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    lines = [line for block in blocks for line in block.replace("\\\n", " ").splitlines()]
    lines += re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```", "", text, flags=re.DOTALL | re.MULTILINE))
    found = [re.split(r"\s#|\|", line)[0].split() for line in lines]
    return [words[1:] for words in found if words and words[0] in ("plumbset", ".venv/bin/plumbset")]


def test_the_readme_is_read_in_a_few_minutes() -> None:
    assert len((ROOT / "README.md").read_text(encoding="utf-8").splitlines()) <= MOST_LINES


def test_the_readme_shows_two_small_pictures() -> None:
    shown = re.findall(
        r"!\[[^\]]+\]\((docs/pictures/[^)]+)\)", (ROOT / "README.md").read_text(encoding="utf-8")
    )
    assert len(shown) == 2
    assert all(0 < (ROOT / name).stat().st_size < MOST_BYTES for name in shown)


@page
def test_every_link_leads_somewhere(page: Path) -> None:
    links = _links(page.read_text(encoding="utf-8"))
    assert [link for link in links if not (page.parent / link).exists()] == []


@page
def test_every_file_that_is_named_is_there(page: Path) -> None:
    assert [path for path in _paths(page.read_text(encoding="utf-8")) if not (ROOT / path).exists()] == []


@page
def test_every_module_that_is_named_is_there_with_what_is_looked_for_in_it(page: Path) -> None:
    named = _modules(page.read_text(encoding="utf-8"))
    assert [f"{module}: {name}" for module, name in named if not _there(module, name)] == []


@page
def test_every_command_that_is_shown_is_known(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    assert [(words, bad) for words in _commands(text) if (bad := _unknown(words))] == []
    targets = re.findall(r"^([\w-]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE)
    assert set(
        re.findall(r"`make ([\w-]+)", text) + re.findall(r"^make ([\w-]+)", text, re.MULTILINE)
    ) <= set(targets)


def test_the_index_leads_to_every_page() -> None:
    index = set(_links((ROOT / "docs" / "README.md").read_text(encoding="utf-8")))
    there = {p.name for p in (ROOT / "docs").iterdir() if p.is_file()} - {"README.md"}
    assert there - index == set()


def test_what_a_flag_asks_for_is_told_as_it_is() -> None:
    told = (ROOT / "docs" / "check.md").read_text(encoding="utf-8")
    assert f"the one-sided {100 * FLAG_CERTAINTY:.0f} % bound" in told


def test_what_is_wrong_is_seen() -> None:
    assert _commands("```\nplumbset check a.mov \\\n  --out b  # --why\n```\n`plumbset tidy --days 9`") == [
        ["check", "a.mov", "--out", "b"], ["tidy", "--days", "9"],
    ]  # fmt: skip
    assert _modules("`vision/a.py: b`, `c.py`") == [("a.py", "b"), ("c.py", "")]
    assert (
        _there("test_docs.py", "PAGES") and not _there("test_docs.py", "gone") and not _there("gone.py", "")
    )
    assert _unknown(["check", "a.mov", "--outt", "b"]) == ["--outt"]
    assert _unknown(["member", "lend"]) == ["lend"]
    assert _links("see [x](gone.md#part) and [y](https://example.org)") == ["gone.md"]
    assert _paths("`vision/quality.py: Thresholds`, `result/x.json`") == ["vision/quality.py"]
