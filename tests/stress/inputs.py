"""Every odd input through the real reader and the whole judging, in a process held to limits."""

from __future__ import annotations

import resource
import shutil
import tempfile
import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from app.jobs.contained import OURS, TOO_LONG, Say, run_contained
from app.jobs.held import Limits
from shared.domain import Frame, Landmarks
from shared.errors import PlumbsetError
from tests.people import landmarks, seated
from tests.stress.corpus import Odd
from tests.stress.warm import warm

#: What one input may cost; the clips are short.
BOUND = Limits(wall_s=60.0, cpu_s=60, memory_mb=1500)
_PRELOAD = ["tests.stress.inputs", "vision.pipeline", "vision.seeing.clip", "vision.telling.write"]


@dataclass
class Tried:
    """What came of all inputs. bad: those that broke a promise, by name with what happened."""

    inputs: int = 0
    judged: int = 0
    refused: int = 0
    not_made: int = 0
    worst_s: float = 0.0
    worst_mb: float = 0.0
    bad: dict[str, str] = field(default_factory=dict)
    sentences: Counter[str] = field(default_factory=Counter)

    @property
    def crashes(self) -> int:
        """Native crashes and our own failures."""
        return sum(TOO_LONG not in said for said in self.bad.values())

    @property
    def hangs(self) -> int:
        """Inputs over the bound of time."""
        return sum(TOO_LONG in said for said in self.bad.values())


class StickPose:
    """Sees a person exercising in every picture: all that follows the look is run for real."""

    name = "stick"

    def survey(self, frames: Iterable[Frame], people: int) -> Landmarks:
        """Consume the pictures; the points fit their size."""
        return self.follow(frames, (0, 0, 0, 0))

    def follow(
        self,
        frames: Iterable[Frame],
        box: tuple[int, int, int, int],
        mirrored: bool = False,
        found: object = None,
    ) -> Landmarks:
        """The same."""
        seen = [(f.index, f.time_s, f.image.shape) for f in frames]
        if not seen:
            return landmarks(seated(np.full(1, 120.0)))
        time_s = np.array([t for _, t, _ in seen])
        found = landmarks(seated(120.0 + 40.0 * np.sin(time_s * 2.0)))
        size = np.array([seen[0][2][1] / 720.0, seen[0][2][0] / 1280.0, 1.0])
        return Landmarks(
            np.array([i for i, _, _ in seen]), time_s, found.image_px * size, found.world_m, found.visibility,
            found.presence, self.name,
        )  # fmt: skip


def judge(path: str, out: str, say: Say) -> tuple[str, float]:
    """Open, read, judge and write out one input; what it says, and the memory it took in MB."""
    from shared.exercise import find_exercise
    from vision.pipeline import analyse
    from vision.seeing.clip import open_clip
    from vision.telling.write import write_outputs

    try:
        source = open_clip(Path(path))
        analysis = analyse(source, find_exercise("leg-extension"), StickPose())
        write_outputs(source, analysis, Path(out))
        said = "judged"
    except PlumbsetError as error:
        said = str(error)
    return said, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def try_inputs(odd: Iterable[Odd], bound: Limits = BOUND) -> Tried:
    """Judge all inputs, one after the other."""
    tried = Tried()
    for one in odd:
        folder = Path(tempfile.mkdtemp(prefix="odd-"))
        try:
            path = one.make(folder)
        except Exception:  # noqa: BLE001 - this build cannot encode that form
            tried.not_made += 1
        else:
            _try(one, path, folder, bound, tried)
        finally:
            shutil.rmtree(folder, ignore_errors=True)
    return tried


def _try(one: Odd, path: Path, folder: Path, bound: Limits, tried: Tried) -> None:
    tried.inputs += 1
    began = time.perf_counter()
    arguments = (str(path), str(folder / "out"))
    try:
        said, memory = run_contained(
            judge, arguments, lambda *_: None, tuple[str, float], bound, warm(_PRELOAD)
        )
    except PlumbsetError as error:
        tried.bad[one.name] = str(error)
        said, memory = str(error), 0.0
    tried.worst_s = max(tried.worst_s, time.perf_counter() - began)
    tried.worst_mb = max(tried.worst_mb, memory)
    if one.name in tried.bad:
        return
    if said == "judged":
        tried.judged += 1
    else:
        tried.refused += 1
        tried.sentences[said.replace(path.name, "X")] += 1
        if not _one_sentence(said, folder):
            tried.bad[one.name] = f"no clear sentence: {said}"


def _one_sentence(said: str, folder: Path) -> bool:
    plain = said.isprintable() or all(c.isprintable() or c in "\x1b\x7f\u202e" for c in said)
    return (
        plain and said.endswith(".") and str(folder) not in said and "Traceback" not in said and said != OURS
    )
