"""What is no file of a person's, handed in as one: a sentence each, without waiting and without end."""

from __future__ import annotations

import os
import resource
from collections.abc import Callable, Iterator
from pathlib import Path
from threading import Thread

import pytest

from app.batches.list import read_list
from app.command.framing import framing
from app.command.progress import load_settings
from app.rules.history import read_history
from shared.errors import PlumbsetError
from shared.exercise import find_exercise, load_exercise
from shared.member import read_member
from vision.judging.approved import load_reference

LEG = find_exercise("leg-extension")
#: Each way in which a file that someone wrote is read, with the ending that leads to it.
READERS: dict[str, tuple[str, Callable[[Path], object]]] = {
    "exercise": (".toml", load_exercise),
    "member": (".toml", lambda path: read_member(path, LEG)),
    "member as JSON": (".json", lambda path: read_member(path, LEG)),
    "settings": (".toml", load_settings),
    "history": (".csv", read_history),
    "list": (".csv", read_list),
    "reference": (".json", lambda path: load_reference(path, LEG)),
    "photo": (".jpg", lambda path: framing(path, LEG.name)),
}


@pytest.fixture
def little_memory() -> Iterator[None]:
    """So little room that reading a file without end is told at once."""
    before = resource.getrlimit(resource.RLIMIT_AS)
    now = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (now + 400_000_000, before[1]))
    yield
    resource.setrlimit(resource.RLIMIT_AS, before)


def _refused(kind: str, path: Path) -> str:
    with pytest.raises(PlumbsetError) as told:
        READERS[kind][1](path)
    said = str(told.value)
    assert said and len(said) < 5000 and len(said.splitlines()) == 1
    return said


@pytest.mark.parametrize("kind", READERS)
def test_a_pipe_is_not_waited_for(kind: str, tmp_path: Path) -> None:
    path = tmp_path / f"pipe{READERS[kind][0]}"
    os.mkfifo(path)
    # whoever waits all the same is met by a writer that leaves at once, and fails instead of waiting for ever
    Thread(target=lambda: os.close(os.open(path, os.O_WRONLY)), daemon=True).start()
    assert "no plain file" in _refused(kind, path)


@pytest.mark.parametrize("kind", READERS)
def test_a_device_without_end_is_not_read(kind: str, tmp_path: Path, little_memory: None) -> None:
    path = tmp_path / f"zero{READERS[kind][0]}"
    path.symlink_to("/dev/zero")
    assert "no plain file" in _refused(kind, path)


@pytest.mark.parametrize("kind", READERS)
def test_two_gigabytes_are_not_read(kind: str, tmp_path: Path, little_memory: None) -> None:
    path = tmp_path / f"long{READERS[kind][0]}"
    path.touch()
    os.truncate(path, 2_000_000_000)
    assert "is larger than" in _refused(kind, path)


@pytest.mark.parametrize("kind", ["exercise", "member", "settings"])
@pytest.mark.parametrize(
    "text", ["new = " + "[" * 5000 + "]" * 5000, "new = " + "{a=" * 5000 + "1" + "}" * 5000], ids=["[", "{"]
)
def test_what_is_nested_without_end_is_a_sentence(kind: str, text: str, tmp_path: Path) -> None:
    path = tmp_path / "deep.toml"
    path.write_text(text, encoding="utf-8")
    assert "nested too deeply" in _refused(kind, path)


def test_of_many_faults_the_first_are_named(tmp_path: Path) -> None:
    path = tmp_path / "many.toml"
    path.write_text("".join(f"k{n} = 1\n" for n in range(5000)), encoding="utf-8")
    assert _refused("exercise", path).count("is not a known key") <= 20
    path.write_text("".join(f"[exercises.k{n}]\n" for n in range(5000)), encoding="utf-8")
    assert _refused("member", path).count("there is no such exercise") <= 20
