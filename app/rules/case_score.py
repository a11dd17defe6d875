"""Cases judged anew with this version, or another definition, and what changed against the trainer's word."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Literal

from app.rules.cases import BY_PICTURE, Case, CaseFinding, CaseMissed
from shared.errors import UsageError
from shared.exercise import CheckSpec, Exercise, Tempo
from shared.faults import OWN_RANGE, is_own_range
from shared.limit import Bound, Limit
from shared.member import Member, Own, with_member
from shared.own_range import Range
from vision.judging.anew import Numbers, judge_numbers, untold
from vision.judging.approved import Trace
from vision.measuring.machine.shown import with_marks

Key = tuple[str, int | None]
#: kept, lost: a flag that was right; found, open: a fault that was missed or only watched; gone, stays: a
#: flag that was none; raised: a new flag on what was called none; new: one of which no trainer said a word.
Change = Literal["kept", "lost", "found", "open", "gone", "stays", "raised", "new"]
MOVED: tuple[Change, ...] = ("found", "gone", "lost", "raised", "new")


@dataclass(frozen=True)
class Moved:
    """One finding whose flag came or went."""

    case: str
    exercise: str
    check: str
    rep: int | None
    change: Change


@dataclass
class Score:
    """What changed, by machine and check; cannot: how many findings of a check could not be judged so.

    counts_wrong: sets that a trainer counted otherwise; unnamed: missed faults of which no check is named.
    """

    cases: int = 0
    changes: dict[tuple[str, str], Counter[Change]] = field(default_factory=dict)
    moved: list[Moved] = field(default_factory=list)
    cannot: Counter[str] = field(default_factory=Counter)
    counts_wrong: int = 0
    unnamed: int = 0

    def add(self, case: str, exercise: str, key: tuple[str, int | None], change: Change) -> None:
        """Count one finding."""
        self.changes.setdefault((exercise, key[0]), Counter())[change] += 1
        if change in MOVED:
            self.moved.append(Moved(case, exercise, key[0], key[1], change))


def as_it_was(case: Case, definition: Exercise) -> Exercise:
    """The definition with the marks, the tempo and the limits that held for this set.

    A limit of a check that is gone is left out, and the stricter limits of a new member are the definition's.
    """
    specs = {spec.id: spec for spec in definition.checks}
    own = {
        one.check: limit
        for one in case.limits
        if (spec := specs.get(one.check)) is not None and not (case.new and spec.new_member_limit)
        and (limit := _limit(one.limit, spec)) is not None
    }  # fmt: skip
    tempo = Tempo(lift_s=case.tempo[0], lower_s=case.tempo[1]) if case.tempo else None
    mine = Own(limits=own, range=_range(case), tempo=tempo)
    member = Member(new=case.new, exercises={definition.name: mine})
    return with_member(with_marks(definition, case.marks), member)


def _range(case: Case) -> Range | None:
    """What bounded the counted angle."""
    bounds = {one.check: one.limit for one in case.limits if is_own_range(one.check)}
    low, high = (bounds.get(f"{OWN_RANGE}{which}") for which in ("min", "max"))
    if not isinstance(low or high, int | float):
        return None
    return Range.model_validate({"at_least": low, "at_most": high})


def _limit(bound: Bound, spec: CheckSpec) -> Limit | None:
    """A limit as the report told it, on the side that the check has; None for a length."""
    if bound is None or spec.limit.is_length:
        return None
    if isinstance(bound, tuple):
        return Limit(at_least=bound[0], at_most=bound[1])
    return Limit(at_most=bound) if spec.limit.at_most is not None else Limit(at_least=bound)


def changed_signals(given: Exercise, shipped: Exercise | None) -> set[str]:
    """Signals that a definition measures otherwise than the one by which they were kept.

    Raises
    ------
    UsageError : it counts by another signal, so that the kept repetitions are none of its.
    """
    if shipped is None:
        return set()
    names = {n for n, one in given.signals.items() if n in shipped.signals and one != shipped.signals[n]}
    if given.drive != shipped.drive or given.drive.signal in names:
        raise UsageError(
            f"This definition counts {given.title} otherwise than the one that ships; check the sets of its "
            "machine from their clips."
        )
    return names


def score_case(
    case: Case, traces: Mapping[str, Trace], definition: Exercise, name: str, into: Score,
    otherwise: Iterable[str] = (),
) -> None:  # fmt: skip
    """Judge one case anew and add what changed. otherwise: signals that were kept by another measure."""
    exercise, of_others = as_it_was(case, definition), tuple(f"{signal}_" for signal in otherwise)
    known = {column: trace for column, trace in traces.items() if not column.startswith(of_others)}
    numbers = Numbers(view=case.view, in_cm=case.in_cm, reps=case.reps, shares=case.shares, traces=known)
    now = {(f.check, f.rep): f.verdict for f in judge_numbers(numbers, exercise)}
    left_out = set(untold(exercise, known))
    before = {f.key: f for f in case.findings}
    missed = {_key(m, {*before, *now}) for m in case.missed if m.check is not None}
    into.cases += 1
    into.counts_wrong += case.counted is not None
    into.unnamed += sum(m.check is None for m in case.missed)
    for key in sorted({*before, *now, *missed}, key=lambda k: (k[0], k[1] or 0)):
        old = before.get(key)
        if key[0] in left_out or (old is not None and old.reason_code in BY_PICTURE):
            into.cannot[key[0]] += 1
            continue
        flag = now.get(key) == "flag" and not (old is not None and old.doubted)
        if (change := _change(old, key in missed, flag)) is not None:
            into.add(name, case.exercise, key, change)


def _key(missed: CaseMissed, known: set[Key]) -> Key:
    """The finding that a missed fault would have been: of its repetition, else of the whole set."""
    of_rep = missed.check or "", missed.rep
    return of_rep if of_rep in known else (of_rep[0], None)


def _change(old: CaseFinding | None, missed: bool, flag: bool) -> Change | None:
    """What a flag, or none, means after what was said; None where nothing is known and nothing changed."""
    said, was_flag = (None, False) if old is None else (old.said, old.verdict == "flag")
    if said == "no-fault":
        if was_flag:
            return "stays" if flag else "gone"
        return "raised" if flag else None
    if said is not None or missed:
        if was_flag:
            return "kept" if flag else "lost"
        return "found" if flag else "open"
    return "new" if flag and not was_flag else None
