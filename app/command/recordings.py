"""What ``plumbset sets`` makes of a recording: each set cut out, checked and told."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from app.command.checking import LIMITS, Wanted, check_contained, ready
from app.jobs.contained import Say, quiet, run_contained
from app.reading.failures import in_words
from shared.errors import PlumbsetError, UsageError
from shared.exercise import Exercise, find_exercise, tagged_exercise
from shared.recording import FEWEST_REPS, Likely, LikelySets, MachineBy, PassedPart, SetPart, SetsFile
from vision.common.cautions import three_cautions
from vision.judging.options import Options
from vision.seeing.subject import SubjectPoint
from vision.telling.files import write_text

if TYPE_CHECKING:
    from shared.report import SetReport

SETS = "sets.json"
#: A machine is guessed where so many sets move like it: one alone may have begun with a reach that misleads.
FEWEST_ALIKE = 2
NO_MACHINE = (
    "Cut but not checked: which machine it is cannot be told{fits}. Check the cut with "
    "plumbset check --exercise, or stick tags on the machine."
)


@dataclass(frozen=True)
class Asked:
    """exercise: the machine that was named, if any; cards: names by the numbers of members' cards."""

    exercise: Exercise | None
    cards: Mapping[int, str]


@dataclass(frozen=True)
class Machine:
    """Which machine a set was done on, how that was told, and how sure it is, in words."""

    exercise: Exercise | None
    by: MachineBy
    sure: str


@dataclass(frozen=True)
class Watcher:
    """Who is told of each set, and of what was passed over, as soon as it is known."""

    found: Callable[[LikelySets], None] = lambda found: None
    one: Callable[[SetPart], None] = lambda one: None
    passed: Callable[[PassedPart], None] = lambda passed: None


def check_recording(recording: Path, asked: Asked, out: Path, say: Say, watcher: Watcher) -> SetsFile:
    """Find, cut and check every set; ``sets.json`` is written last. The recording is only read.

    Raises
    ------
    InputError : it cannot be read. UsageError : ``out`` is not empty, or cannot be written to.
    InternalError : reading it failed on our side.
    """
    if out.is_dir() and any(out.iterdir()):
        raise UsageError(f"The folder {out} is not empty; choose a new one with --out.")
    found: LikelySets = run_contained(search, (recording,), say, LikelySets, LIMITS)
    watcher.found(found)
    file = SetsFile(
        recording=recording.name, duration_s=found.duration_s, stirred_s=found.stirred_s,
        cautions=list(three_cautions(asked.exercise)),
    )  # fmt: skip
    try:
        out.mkdir(parents=True, exist_ok=True)
        _check_all(recording, asked, found.sets, file, out=out, say=say, watcher=watcher)
        write_text(out / SETS, file.to_json())
    except OSError as error:
        raise UsageError(
            f"The folder {out} cannot be written to ({error.strerror}); free some space or choose another."
        ) from error
    return file


def _check_all(
    recording: Path,
    asked: Asked,
    sets: Sequence[Likely],
    file: SetsFile,
    *,
    out: Path,
    say: Say,
    watcher: Watcher,
) -> None:
    """Cut and check one after the other, and note each in the file."""
    people = People(asked.cards)
    for one, machine in zip(sets, machines(sets, asked.exercise), strict=True):
        told = _told(recording, one, machine, number=len(file.sets) + 1, out=out, say=say)
        if isinstance(told, SetPart):
            file.sets.append(people.named(told, one))
            watcher.one(file.sets[-1])
        else:
            file.passed_over.append(told)
            watcher.passed(told)


class People:
    """Who trained: by the card that was shown, else a number for each time that somebody sat down."""

    def __init__(self, cards: Mapping[int, str]):
        self._cards = cards
        self._unknown: dict[int, int] = {}

    def named(self, told: SetPart, one: Likely) -> SetPart:
        """The set with its name; nobody is told from anybody else by their looks."""
        if one.card is not None:
            name = self._cards.get(one.card, f"number {one.card}")
            return told.model_copy(update={"who": name, "who_by": "card"})
        number = self._unknown.setdefault(one.sitting, len(self._unknown) + 1)
        return told.model_copy(update={"who": f"unknown {number}"})


def machines(sets: Sequence[Likely], named: Exercise | None) -> list[Machine]:
    """The machine of each set: by its tags, else as named, else guessed by how all of them move."""
    guess = guessed(sets)
    return [_by_tags(one) or (Machine(named, "option", "as named") if named else guess) for one in sets]


def _by_tags(one: Likely) -> Machine | None:
    exercise = None if one.tag is None else tagged_exercise(one.tag)
    return None if exercise is None else Machine(exercise, "tags", "by its printed tags")


def guessed(sets: Sequence[Likely]) -> Machine:
    """The one machine that the movements fit: a phone that stays films one. None where several would do."""
    votes = Counter(name for one in sets for name in one.fits)
    told = sum(bool(one.fits) for one in sets)
    most = [name for name, times in votes.items() if times == max(votes.values())]
    if len(most) != 1 or votes[most[0]] < FEWEST_ALIKE or 2 * votes[most[0]] <= told:
        return Machine(None, "unknown", f" ({' or '.join(sorted(most))} would fit)" if most else "")
    sure = f"guessed: {votes[most[0]]} of {len(sets)} movements are like it"
    return Machine(find_exercise(most[0]), "movement", sure)


def _told(
    recording: Path, one: Likely, machine: Machine, number: int, out: Path, say: Say
) -> SetPart | PassedPart:
    """Cut and check one; what is no set leaves nothing behind."""
    folder = out / f"set-{number:02d}"
    folder.mkdir()
    clip = folder / f"set-{number:02d}.mp4"
    begun: float = run_contained(
        cut_out, (recording, one.cut_start_s, one.cut_end_s, clip), quiet, float, LIMITS
    )
    told = SetPart(
        number=number, who="unknown", who_by="unknown",
        exercise=machine.exercise.name if machine.exercise else None, exercise_by=machine.by,
        sure=machine.sure, start_s=one.start_s, end_s=one.end_s, count=None,
        clip=f"{folder.name}/{clip.name}", clip_start_s=round(begun, 3),
    )  # fmt: skip
    if machine.exercise is None:
        return told.model_copy(update={"sure": "", "problem": NO_MACHINE.format(fits=machine.sure)})
    try:
        with ready() as child:
            wanted = Wanted([clip], machine.exercise, options=_options(one, begun), out=folder)
            report, _, page = check_contained(child, wanted, say)
    except PlumbsetError as error:
        return told.model_copy(update={"problem": str(error)})
    if (why := no_set(report, one.swings)) is not None:
        shutil.rmtree(folder)
        return PassedPart(start_s=one.start_s, end_s=one.end_s, why=why)
    return told.model_copy(update=_judged(report, begun) | {"report": f"{folder.name}/{page.name}"})


def _options(one: Likely, begun: float) -> Options:
    """Who of several is meant, in the cut's time."""
    if one.at is None:
        return Options()
    x, y, moment_s = one.at
    return Options(subject=SubjectPoint(x, y, moment_s - begun))


#: Codes of a clip in which nobody trains on the machine.
NONE_THERE = ("no-set", "standing")


def no_set(report: SetReport, swings: int) -> str | None:
    """Why what was checked is no set; None where it is one, or where nothing says that it is none.

    swings: how many the search saw, which counts where the check could not.
    """
    count = report.unjudged.count if report.unjudged is not None else report.count
    if count is not None and count < FEWEST_REPS:
        return f"Only {count} full repetitions were counted; {FEWEST_REPS} make a set."
    if count is None and any(problem.code in NONE_THERE for problem in report.quality.problems):
        return "Somebody moved there, but not as in a set on this machine."
    if count is None and swings < 2 * FEWEST_REPS:
        return f"It could not be judged, and fewer than {FEWEST_REPS} repetitions were seen."
    return None


def _judged(report: SetReport, begun: float) -> dict[str, object]:
    """What the report says of a set, in the recording's time."""
    reps = report.reps or (report.unjudged.reps if report.unjudged is not None else [])
    told: dict[str, object] = {"count": report.count}
    if reps:
        told |= {"start_s": round(begun + reps[0].start_s, 3), "end_s": round(begun + reps[-1].end_s, 3)}
    if not report.quality.usable:
        told["problem"] = " ".join(problem.text for problem in report.quality.problems)
    return told


def search(recording: Path, say: Say) -> LikelySets:
    """The sets that a recording seems to hold; for a process of its own."""
    from vision.recording import find_sets

    def work() -> LikelySets:
        from vision.seeing.pose_mediapipe import MediaPipePose

        return find_sets(recording, MediaPipePose(None), lambda share: say("Looking for sets", share))

    return in_words(work)


def cut_out(recording: Path, start_s: float, end_s: float, clip: Path, say: Say) -> float:
    """Write a part (s) of a recording as a clip; where it begins, s. For a process of its own."""
    from vision.seeing.clip import open_clip
    from vision.seeing.cut import cut

    return in_words(lambda: cut(recording, open_clip(recording), start_s, end_s, clip))
