"""The targets that we set ourselves, in one table, and the misses that are known.

A figure without a line here has no target: it is printed, and neither met nor missed.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path


@dataclass(frozen=True)
class Target:
    """Bounds of a figure in its own unit; figure: its name, ``*`` for any part of it."""

    figure: str
    at_least: float | None = None
    at_most: float | None = None

    def met(self, value: float) -> bool:
        """Whether the value lies within the bounds."""
        return (self.at_least is None or value >= self.at_least) and (
            self.at_most is None or value <= self.at_most
        )


TARGETS = (
    Target("repetition count exact", at_least=0.98),
    Target("repetition count within 1", at_least=1.0),
    Target("* time, mean absolute error", at_most=0.10),
    Target("* duration, mean absolute error", at_most=0.12),
    Target("times in phases over 4 s, mean absolute error", at_most=3.0),
    Target("durations over 4 s, mean absolute error", at_most=3.0),
    Target("knee at both ends, within 15 degrees of the view, mean absolute error", at_most=3.0),
    Target("knee at both ends, within 15 degrees of the view, bias over clips", at_least=-1.5, at_most=1.5),
    Target("knee at both ends, 30 degrees off the view, mean absolute error", at_most=5.0),
    Target("elbow at both ends, pulldown and presses, mean absolute error", at_most=6.0),
    Target("change of an angle between repetitions, mean absolute error", at_most=1.5),
    Target("trunk pitch change, mean absolute error", at_most=2.5),
    Target("*: flags that are right", at_least=0.95),
    Target("*: clear faults found", at_least=0.90),
    Target("clean repetitions that are watch", at_most=0.10),
    Target("clean repetitions that are cannot-tell", at_most=0.10),
    Target("false flags on a clean set, mean", at_most=0.1),
    Target("90 % intervals that hold the truth", at_least=0.85, at_most=0.97),
    Target("90 % intervals that hold the truth, *", at_least=0.80),
    Target("unfit clips refused with the right reason", at_least=1.0),
    Target("fit clips refused", at_most=0.02),
)


def target_of(figure: str) -> Target | None:
    """The target of a figure, None where none was set."""
    return next((target for target in TARGETS if fnmatchcase(figure, target.figure)), None)


@dataclass(frozen=True)
class Miss:
    """A target that is known to be missed: how far at worst, and why."""

    figure: str
    worst: float
    reason: str

    def covers(self, value: float) -> bool:
        """Whether a value that misses is no further off than is known."""
        target = target_of(self.figure)
        assert target is not None
        low = target.at_least is not None and value < target.at_least
        return value >= self.worst if low else value <= self.worst


def read_misses(path: Path) -> dict[str, Miss]:
    """The known misses of a TOML file by figure: ``[[miss]]`` with ``figure``, ``worst`` and ``reason``.

    SystemExit with a sentence where an entry is not whole or names a figure without a target.
    """
    found = {}
    for entry in tomllib.loads(path.read_text(encoding="utf-8")).get("miss", []):
        if entry.keys() != {"figure", "worst", "reason"} or not str(entry["reason"]).strip():
            raise SystemExit(f"{path.name}: each miss needs figure, worst and reason; see {entry}")
        if target_of(entry["figure"]) is None:
            raise SystemExit(f"{path.name}: {entry['figure']!r} has no target that could be missed.")
        found[entry["figure"]] = Miss(entry["figure"], float(entry["worst"]), entry["reason"])
    return found


def missed(values: Mapping[str, float], known: Mapping[str, Miss]) -> tuple[list[str], list[str]]:
    """Sentences about values that miss their targets: those not known, which fail, and the others."""
    new, old = [], []
    for name, value in values.items():
        target = target_of(name)
        if target is None or target.met(value):
            if name in known:
                old.append(f"{name}: {value:.3g} is no longer missed, strike it from the list")
        elif name in known and known[name].covers(value):
            old.append(f"{name}: {value:.3g}, known: {known[name].reason}")
        else:
            new.append(f"{name}: {value:.3g}, target {words(target)}")
    return new, old


def words(target: Target) -> str:
    """The bounds in words."""
    bounds: Iterable[tuple[str, float | None]] = (("at least", target.at_least), ("at most", target.at_most))
    return " and ".join(f"{word} {bound:g}" for word, bound in bounds if bound is not None)
