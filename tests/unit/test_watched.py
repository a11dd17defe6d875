"""A watched folder: what is whole is checked once, over restarts too, and what lands there stays as it is."""

from __future__ import annotations

import hashlib
import os
import sys
from pathlib import Path

import pytest

from app import cli
from app.batches import watched as watched_module
from app.batches.watched import JOURNAL, SETTLED_S, Done, Watched
from app.command.sets import FACES
from shared.errors import ClipError, InternalError, UsageError


class Studio:
    """A folder, its watcher, a clock, and who checks."""

    def __init__(self, root: Path) -> None:
        self.folder, self.out = root / "in", root / "out"
        self.folder.mkdir()
        self.checked: list[str] = []
        self.said: list[str] = []
        self.fails: Exception | None = None
        self.clock = 0.0
        self.start()

    def start(self) -> None:
        self.watched = Watched(self.folder, self.out, self.check, self.said.append, now=lambda: self.clock)

    def check(self, path: Path, sha256: str) -> Done:
        self.checked.append(path.name)
        if self.fails is not None:
            raise self.fails
        return Done(f"{path.name}: 1 set", f"one-{sha256[:10]}")

    def turns(self, count: int = 3) -> None:
        for _ in range(count):
            self.watched.turn()
            self.clock += SETTLED_S

    def lands(self, name: str, data: bytes = b"video") -> Path:
        path = self.folder / name
        path.write_bytes(data)
        return path


@pytest.fixture
def studio(tmp_path: Path) -> Studio:
    return Studio(tmp_path)


def test_what_lands_is_checked_once_and_stays(studio: Studio) -> None:
    path = studio.lands("one.mp4")
    studio.turns(5)
    assert studio.checked == ["one.mp4"] and studio.said == ["one.mp4: 1 set"]
    assert path.read_bytes() == b"video"


def test_what_still_grows_is_waited_for(studio: Studio) -> None:
    for k in range(4):
        studio.lands("one.mp4", b"video" * (k + 1))
        studio.turns(1)
    studio.clock -= SETTLED_S / 2
    studio.turns(1)
    assert studio.checked == [], "for half of the time only"
    studio.turns(1)
    assert studio.checked == ["one.mp4"]


@pytest.mark.skipif(sys.platform == "win32", reason="locks of another kind")
def test_what_somebody_holds_a_lock_on_is_waited_for(studio: Studio) -> None:
    import fcntl

    path = studio.lands("one.mp4")
    with path.open("rb") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        studio.turns()
        assert studio.checked == []
    studio.turns(1)
    assert studio.checked == ["one.mp4"]


def test_a_restart_goes_on_where_it_was(studio: Studio) -> None:
    studio.lands("one.mp4")
    studio.turns()
    studio.start()
    studio.lands("two.mp4", b"other")
    studio.turns()
    assert studio.checked == ["one.mp4", "two.mp4"]


def test_the_same_bytes_under_another_name_are_not_checked_again(studio: Studio) -> None:
    studio.lands("one.mp4")
    studio.turns()
    studio.lands("copy.mp4")
    studio.turns()
    studio.start()
    studio.turns()
    assert studio.checked == ["one.mp4"]
    assert studio.said[1:] == ["copy.mp4 is the same as one.mp4; it was not checked again."]


def test_other_bytes_under_the_same_name_are(studio: Studio) -> None:
    studio.lands("one.mp4")
    studio.turns()
    studio.lands("one.mp4", b"another day")
    studio.turns()
    assert studio.checked == ["one.mp4", "one.mp4"]


def test_what_cannot_be_read_is_told_once_and_left_alone(studio: Studio) -> None:
    studio.fails = ClipError("one.mp4 is damaged.")
    path = studio.lands("one.mp4")
    studio.turns()
    studio.start()
    studio.turns()
    assert studio.checked == ["one.mp4"] and path.exists()
    assert studio.said == ["one.mp4 is damaged. one.mp4 stays where it is."]


def test_our_own_failure_is_tried_again_after_a_restart_only(studio: Studio) -> None:
    studio.fails = InternalError("The disk is full.")
    studio.lands("one.mp4")
    studio.turns(4)
    assert studio.checked == ["one.mp4"]
    studio.fails = None
    studio.start()
    studio.turns()
    studio.start()
    studio.turns()
    assert studio.checked == ["one.mp4", "one.mp4"]


def test_a_full_disk_is_no_fault_of_the_file(studio: Studio) -> None:
    studio.fails = UsageError("The folder out cannot be written to (No space left on device).")
    studio.lands("one.mp4")
    studio.turns()
    studio.fails = None
    studio.start()
    studio.turns()
    assert studio.checked == ["one.mp4", "one.mp4"] and studio.said[-1] == "one.mp4: 1 set"


def test_a_check_that_was_broken_off_is_done_again(studio: Studio) -> None:
    studio.fails = KeyboardInterrupt()  # type: ignore[assignment]
    studio.lands("one.mp4")
    with pytest.raises(KeyboardInterrupt):
        studio.turns()
    studio.fails = None
    studio.start()
    studio.turns()
    assert studio.checked == ["one.mp4", "one.mp4"]


def test_a_journal_that_a_crash_cut_off_costs_one_line(studio: Studio) -> None:
    studio.lands("one.mp4")
    studio.turns()
    with (studio.out / JOURNAL).open("a") as journal:
        journal.write('{"sha256": "ab')
    studio.start()
    studio.lands("two.mp4", b"other")
    studio.turns()
    studio.start()
    studio.turns()
    assert studio.checked == ["one.mp4", "two.mp4"]


def test_other_files_and_folders_are_none_of_its_business(studio: Studio) -> None:
    studio.lands("notes.txt")
    studio.lands(".one.mp4.part")
    studio.lands(".two.mp4")
    studio.lands("empty.mp4", b"")
    studio.turns()
    assert studio.checked == [] and studio.said == []


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything")
def test_a_file_that_may_not_be_read_is_one_sentence(studio: Studio) -> None:
    studio.lands("one.mp4").chmod(0)
    studio.turns(5)
    assert studio.said == ["one.mp4 cannot be read (Permission denied); it stays where it is."]


def test_a_folder_that_is_none_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="is no folder"):
        Watched(tmp_path / "gone", tmp_path / "out", lambda a, b: Done(""), print)


def test_the_command_stops_cleanly_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import time

    def stops(_: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(time, "sleep", stops)
    (tmp_path / "in").mkdir()
    command = ["watch", str(tmp_path / "in"), "--out", str(tmp_path / "out")]
    assert cli.run(lambda: cli.app(command, standalone_mode=False)) == 0
    said = capsys.readouterr().out
    assert FACES in said and "Stop with Ctrl+C" in said and "Stop on sharp" in said and "Stopped." in said


def test_a_check_whose_line_was_lost_is_not_done_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import time

    turns = iter(range(3))

    def stops(_: float) -> None:
        now.append(now[-1] + SETTLED_S)
        if next(turns, None) is None:
            raise KeyboardInterrupt

    now = [0.0]
    monkeypatch.setattr(time, "sleep", stops)
    monkeypatch.setattr(watched_module, "CLOCK", lambda: now[-1])
    clip = tmp_path / "in" / "one.mp4"
    clip.parent.mkdir()
    clip.write_bytes(b"video")
    done = tmp_path / "out" / f"one-{hashlib.sha256(b'video').hexdigest()[:10]}" / "sets.json"
    done.parent.mkdir(parents=True)
    done.write_text("{}")
    command = ["watch", str(clip.parent), "--out", str(tmp_path / "out")]
    assert cli.run(lambda: cli.app(command, standalone_mode=False)) == 0
    assert "one.mp4 was checked before." in capsys.readouterr().out
    assert done.read_text() == "{}"


def test_its_own_cuts_are_not_watched(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = ["watch", str(tmp_path), "--out", str(tmp_path / "." / "")]
    assert cli.run(lambda: cli.app(command, standalone_mode=False)) == 2
    assert "watched folder itself" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ([], "Say where sets go"),
        (["--out", "out", "--studio"], "Say where sets go"),
        (["--studio", "--cards", "cards.csv"], "leave --cards out"),
    ],
)
def test_where_sets_go_is_said_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], more: list[str], said: str
) -> None:
    assert cli.run(lambda: cli.app(["watch", str(tmp_path), *more], standalone_mode=False)) == 2
    assert said in capsys.readouterr().err
