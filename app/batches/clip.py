"""What a worker does with one clip of a batch: fetch it, judge it contained, hand back what came of it.

Nothing here depends on the worker: no time of day, no name of a machine gets into a result.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib.metadata import version
from pathlib import Path, PurePosixPath
from urllib.parse import unquote, urlsplit

from app.jobs.contained import OURS, Say, quiet, run_contained
from app.jobs.left import own
from app.reading.failures import in_words, missing_extra
from shared.errors import ClipError, InternalError, PlumbsetError, UsageError
from shared.exercise import Exercise
from vision.judging.options import Options

_CHUNK = 1 << 20
#: More than any phone records of one set.
MAX_BYTES = 16_000_000_000


@dataclass(frozen=True)
class ClipJob:
    """One clip for a worker. clip: path or URL; threads: how many halves are looked at side by side."""

    name: str
    clip: str
    exercise: Exercise
    options: Options
    threads: int
    version: str


@dataclass(frozen=True)
class ClipOutcome:
    """The files of a report by name, or the sentence that says why there is none; sha256: of the clip."""

    name: str
    files: Mapping[str, bytes] = field(default_factory=dict)
    sha256: str = ""
    problem: str = ""


#: Judges a clip and writes its report into a folder.
Check = Callable[[Path, ClipJob, Path, Say], None]


def judge(clip: Path, job: ClipJob, out: Path, say: Say) -> None:
    """Run the pipeline on a clip. Loads the landmark model: for contained processes only."""

    def work() -> None:
        from vision.pipeline import analyse
        from vision.seeing.clip import open_clip
        from vision.seeing.pose_mediapipe import MediaPipePose
        from vision.telling.write import write_outputs

        source = open_clip(clip)
        analysis = analyse(source, job.exercise, MediaPipePose(None), job.options, threads=job.threads)
        write_outputs(source, analysis, out)

    in_words(work)


def check_one(job: ClipJob, check: Check = judge) -> ClipOutcome:
    """Check one clip in a process of its own; whatever becomes of that, there is an outcome."""
    if job.version != version("plumbset"):
        said = f"This worker has Plumbset {version('plumbset')}, and the batch is of {job.version}"
        return ClipOutcome(job.name, problem=f"{said}; install the same version on both.")
    try:
        with tempfile.TemporaryDirectory(prefix="plumbset-", ignore_cleanup_errors=True) as folder:
            clip, out = fetched(job.clip, Path(folder)), Path(folder) / "out"
            sha256 = _digest(clip)
            out.mkdir()
            run_contained(check, (clip, job, out), quiet, None)
            names = sorted(place.name for place in out.iterdir())
            return ClipOutcome(job.name, {name: own(out, name).read_bytes() for name in names}, sha256)
    except PlumbsetError as error:
        return ClipOutcome(job.name, problem=str(error))
    except OSError as error:
        return ClipOutcome(
            job.name, problem=f"The worker could not keep its files ({error.strerror}); try again."
        )
    except Exception:  # noqa: BLE001 - the others must not stop for it
        return ClipOutcome(job.name, problem=OURS)


def digest_of(place: str) -> str:
    """SHA-256 of the clip at a path or URL; empty where it cannot be read."""
    try:
        with tempfile.TemporaryDirectory(prefix="plumbset-", ignore_cleanup_errors=True) as folder:
            return _digest(fetched(place, Path(folder)))
    except (PlumbsetError, OSError):
        return ""


def _digest(clip: Path) -> str:
    """Empty for what is no plain file, or cannot be read: opening the clip says why."""
    try:
        if not clip.is_file():
            return ""
        with clip.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError:
        return ""


def fetched(place: str, folder: Path) -> Path:
    """The clip as a file: where it lies, or for a URL a copy in the folder, under its own name.

    Raises
    ------
    ClipError : it is not there, or absurdly large. UsageError : a package is missing.
    InternalError : its store does not answer.
    """
    if "://" not in place:
        return Path(place)
    name = PurePosixPath(unquote(urlsplit(place).path)).name
    target = folder / (name if name.isprintable() and len(name.encode()) < 200 and name else "clip")
    try:
        import fsspec
    except ModuleNotFoundError as error:
        raise missing_extra("fsspec") from error
    try:
        with fsspec.open(place, "rb") as stream, target.open("wb") as out:
            left = MAX_BYTES
            while chunk := stream.read(_CHUNK):
                left -= len(chunk)
                if left < 0:
                    raise ClipError(f"{target.name} is larger than 16 GB; cut it to the one set.")
                out.write(chunk)
    except PlumbsetError:
        raise
    except FileNotFoundError as error:
        raise ClipError(f"{target.name} is not there; check its address.") from error
    except (ImportError, ValueError) as error:
        raise UsageError(
            f"{target.name} lies where nothing here can read; check its address, and install the fsspec "
            "package of its kind."
        ) from error
    except Exception as error:  # each kind of store raises errors of its own
        raise InternalError(
            f"{target.name} could not be fetched ({type(error).__name__}); try again."
        ) from error
    return target
