"""The newest packages that the bounds allow, apart from the pinned ones: installed anew, they check a set."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import av
import pytest

ROOT = Path(__file__).parents[1]
CLIP = ROOT / "sample_clips" / "leg-extension-clean.mp4"
#: Until then, in s, the clip holds three whole repetitions.
UNTIL_S, REPS = 16.0, 3
#: The newest first: on the oldest some packages have no new release.
PYTHONS = ("python3.13", "python3.12", "python3.11")
ASKED = "import sys, ensurepip; print(*sys.version_info[:2], sep='.')"
ALL = """
import importlib, pkgutil, sys
import app, shared, vision
for package in (app, shared, vision):
    for found in pkgutil.walk_packages(package.__path__, package.__name__ + "."):
        if "migrations" not in found.name and found.name != "app.main":
            importlib.import_module(found.name)
"""

pytestmark = [pytest.mark.network, pytest.mark.long, pytest.mark.xdist_group("newest")]


def _run(*command: object, at: Path) -> subprocess.CompletedProcess[str]:
    env = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "VIRTUAL_ENV", "PYTHONWARNINGS")}
    words = [str(word) for word in command]
    return subprocess.run(words, cwd=at, env=env, capture_output=True, text=True, check=False)


def _done(*command: object, at: Path) -> str:
    done = _run(*command, at=at)
    assert done.returncode == 0, done.stderr[-3000:]
    return done.stdout


def _newest_python(at: Path) -> str:
    """The newest that runs, found by its name or where pyenv keeps them; ours where there is no other."""
    kept = Path.home() / ".pyenv" / "versions"
    for name in PYTHONS:
        for python in (shutil.which(name), *sorted(kept.glob(f"{name[6:]}.*/bin/{name}"))):
            if python is not None and _run(python, "-c", ASKED, at=at).stdout.strip() == name[6:]:
                return str(python)
    return sys.executable


class Newest:
    """A place of its own: a virtual environment, the source to install from, and what is written."""

    def __init__(self, at: Path):
        self.at = at
        _done(_newest_python(at), "-m", "venv", at / "venv", at=at)
        self.python = at / "venv" / "bin" / "python"
        asked = self.pip("download", "--no-deps", "--dest", at / "asked", "markupsafe>=3,<4")
        if asked.returncode:
            pytest.skip(f"no packages can be fetched, offline? ({asked.stderr.strip().splitlines()[-1]})")
        self.source = at / "source"
        for folder in ("app", "shared", "vision"):
            shutil.copytree(ROOT / folder, self.source / folder, ignore=shutil.ignore_patterns("__pycache__"))
        for file in ("pyproject.toml", "README.md", "LICENSE"):
            shutil.copy(ROOT / file, self.source)

    def pip(self, *words: object) -> subprocess.CompletedProcess[str]:
        return _run(self.python, "-m", "pip", "--quiet", "--retries", "2", *words, at=self.at)

    def install(self, extras: str = "") -> None:
        eager = ("--upgrade", "--upgrade-strategy", "eager", "--no-compile")
        done = self.pip("install", *eager, f"{self.source}{extras}")
        assert done.returncode == 0, done.stderr[-3000:]
        fits = self.pip("check")
        assert fits.returncode == 0, fits.stdout

    def plumbset(self, *words: object) -> subprocess.CompletedProcess[str]:
        return _run(self.at / "venv" / "bin" / "plumbset", *words, at=self.at)


@pytest.fixture(scope="module")
def newest(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Newest]:
    """With what comes with Plumbset itself; the last test adds the extras."""
    at = tmp_path_factory.mktemp("newest")
    place = Newest(at)
    place.install()
    yield place
    shutil.rmtree(at)


def _short(path: Path) -> Path:
    with av.open(str(CLIP)) as source, av.open(str(path), "w") as cut:
        stream = cut.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(video=0):
            if packet.dts is not None and packet.dts * packet.time_base < UNTIL_S:
                packet.stream = stream
                cut.mux(packet)
    return path


def test_a_clip_is_checked_with_them(newest: Newest) -> None:
    clip, out = _short(newest.at / "set.mp4"), newest.at / "out"
    done = newest.plumbset("check", clip, "--exercise", "leg-extension", "--out", out)
    assert done.returncode == 0, done.stderr
    report = json.loads((out / "report.json").read_text(encoding="utf-8"))
    assert report["count"] == REPS
    if _done(newest.python, "-c", ASKED, at=newest.at).strip() == "3.11":
        pytest.skip("checked with PyAV 18 alone: 19 needs Python 3.12, and there is none here")
    assert report["versions"]["av"].startswith("19.")


def test_without_extras_the_page_says_which_one_it_needs(newest: Newest) -> None:
    done = newest.plumbset("app")
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1 and 'pip install ".[app]"' in done.stderr


def test_with_all_extras_every_module_loads(newest: Newest) -> None:
    newest.install("[app,oidc,remote,cluster]")
    _done(newest.python, "-c", ALL, at=newest.at)
