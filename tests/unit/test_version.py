"""``plumbset --version`` tells the models and the learnt data that are installed."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from app import cli
from app.command.version import version_lines
from vision.seeing.pose_mediapipe import DEFAULT_MODEL, SURVEY_MODEL

VISION = DEFAULT_MODEL.parents[1]


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    shutil.copytree(VISION / "data", tmp_path / "data")
    (tmp_path / "models").mkdir()
    for name in ("a.task", "b.task"):
        (tmp_path / "models" / name).write_bytes(name.encode())
    return tmp_path


def test_the_version_names_models_and_data(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(lambda: cli.app(["--version"], standalone_mode=False)) == 0
    plumbset, *models, data, read = capsys.readouterr().out.splitlines()
    assert re.fullmatch(r"plumbset \d+\.\d+\.\d+", plumbset)
    readme = (VISION / "models" / "README.md").read_text(encoding="utf-8")
    told = {line.split()[1]: line.split()[-1] for line in models}
    assert set(told) == {DEFAULT_MODEL.name, SURVEY_MODEL.name}
    for name, digits in told.items():
        assert len(digits) == 12 and f"`{digits}" in readme[readme.index(name) :]
    files = len(list((VISION / "data").iterdir())) - 1  # the README
    assert re.fullmatch(rf"learnt data of {files} files sha256 [0-9a-f]{{12}}", data)
    assert read.startswith("clips are read ")


def test_the_same_files_elsewhere_are_the_same_version(copied: Path) -> None:
    assert version_lines(copied)[-2:] == version_lines()[-2:]


def _byte(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"x")


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (lambda at: _byte(at / "data" / "leg-curl-side.npz"), -2),
        (lambda at: _byte(at / "data" / "leg-curl.toml"), -2),
        (lambda at: (at / "data" / "leg-curl-side.npz").rename(at / "data" / "leg-curl-front.npz"), -2),
        (lambda at: _byte(at / "models" / "a.task"), 1),
    ],
    ids=["a byte of the data", "a byte of its text", "a name of the data", "a byte of a model"],
)
def test_a_change_shows_in_its_line_alone(copied: Path, change: object, line: int) -> None:
    before = version_lines(copied)
    change(copied)  # type: ignore[operator]
    after = version_lines(copied)
    changed = [i for i, (a, b) in enumerate(zip(before, after, strict=True)) if a != b]
    assert changed == [line % len(before)]
