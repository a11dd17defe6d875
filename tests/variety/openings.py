"""Every opening of the sealed part is written into docs/accuracy.md: the date, the commit and the figures."""

from __future__ import annotations

import subprocess
from datetime import date
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "accuracy.md"
HEAD = "| opened | commit | sets |"
FIGURES = ("sets", "refused", "count exact", "off by at most one", "outside listed", "flags outside",
           "false flags a set", "leans found")  # fmt: skip


def written(page: str, opened: date, commit: str, figures: dict[str, str]) -> str:
    """The page with one more row under the table of openings; ValueError when the page has none."""
    lines = page.splitlines(keepends=True)
    at = next((i for i, line in enumerate(lines) if line.startswith(HEAD)), None)
    if at is None:
        raise ValueError(f"{PAGE.name} has no table that begins with {HEAD}")
    while at < len(lines) and lines[at].startswith("|"):
        at += 1
    row = [opened.isoformat(), commit, *(figures[name] for name in FIGURES)]
    return "".join([*lines[:at], f"| {' | '.join(row)} |\n", *lines[at:]])


def record(figures: dict[str, str]) -> None:
    """Write an opening of today into the page."""
    git = ["git", "-C", str(ROOT)]
    commit = subprocess.run(
        [*git, "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True
    )
    changed = subprocess.run([*git, "status", "--porcelain"], capture_output=True, text=True, check=True)
    name = commit.stdout.strip() + (" and changes" if changed.stdout.strip() else "")
    PAGE.write_text(written(PAGE.read_text(encoding="utf-8"), date.today(), name, figures), encoding="utf-8")
