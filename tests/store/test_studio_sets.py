"""A watched folder and the page's store: right names, a count for the rest, once, and nothing left behind."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from app import cli
from app.batches import watched as watched_module
from app.batches.watched import Done, Watched
from app.command import recordings, studio_sets
from app.command.studio_sets import begun, clear_work, take_recording, work_name
from app.jobs.contained import quiet
from app.store import found_sets
from app.store.base import day_of
from app.store.found_tables import FoundSet, MemberCard
from app.store.models import Job, TrainingSet, now
from shared.errors import ClipError, UsageError
from shared.exercise import exercise_names, find_exercise, tagged_exercise
from shared.recording import Likely, LikelySets
from tests.store.conftest import Studio

ILSE, ODO = 1, 2
LENGTH_S = 600.0
MACHINE = next(name for name in exercise_names() if find_exercise(name).tag_number is not None)
TAG = find_exercise(MACHINE).tag_number


class Killed(BaseException):
    """The process ends here and now."""


def likely(at_s: float, card: int | None = None, **more: Any) -> Likely:
    moments = {"start_s": at_s, "end_s": at_s + 40, "cut_start_s": at_s - 9, "cut_end_s": at_s + 49}
    return Likely(**{**moments, "sitting": 0, "swings": 24, "tag": TAG, "card": card, **more})


class Room:
    """A watched folder of a studio whose members have cards; the reading of the recording is a fake."""

    def __init__(self, studio: Studio, root: Path) -> None:
        self.studio, self.folder, self.data = studio, root / "phone", root / "data"
        self.folder.mkdir()
        self.sets: Sequence[Likely] = ()
        self.recorded_at: datetime | None = None
        self.searched, self.clock = 0, 0.0
        self.cuts: list[float] = []
        self.said: list[str] = []
        studio.trainer.give_cards()
        with studio.database.write() as session:
            for card in session.scalars(select(MemberCard)):
                card.given_at = now() - timedelta(days=2)
        for member in (studio.ilse, studio.odo):
            member.deny_pain(member.actor.id)

    def run(self, function: Callable[..., Any], given: tuple[Any, ...], *_: Any) -> Any:
        if function is recordings.search:
            self.searched += 1
            return LikelySets(LENGTH_S, 200.0, tuple(self.sets), self.recorded_at)
        path, start_s, _, clip = given
        assert path.exists()
        clip.write_bytes(f"cut at {start_s}".encode())
        self.cuts.append(start_s)
        return start_s

    def lands(self, *sets: Likely, name: str = "monday.mp4") -> Path:
        self.sets = sets
        path = self.folder / name
        path.write_bytes(b"a recording")
        return path

    def watch(self, exercise: str | None = None) -> None:
        """The command, from its start on, until the folder is looked through."""
        named = None if exercise is None else find_exercise(exercise)
        files = self.studio.files
        place = studio_sets.Studio(
            self.studio.database, files, work_name(self.folder), named, self.said.append
        )
        clear_work(files, place.work)
        watched = Watched(
            self.folder, self.data / studio_sets.FOLDER,
            lambda path, sha256: Done(take_recording(place, path, sha256, quiet)),
            self.said.append, now=lambda: self.clock,
        )  # fmt: skip
        for _ in range(3):
            watched.turn()
            self.clock += watched_module.SETTLED_S

    def kept(self) -> list[tuple[str, str]]:
        """Member and machine of each set in the store."""
        names = {self.studio.ilse.actor.id: "Ilse", self.studio.odo.actor.id: "Odo"}
        with self.studio.database.read() as session:
            rows = session.scalars(select(TrainingSet).order_by(TrainingSet.id))
            return [(names[row.person_id], row.exercise) for row in rows]

    def counted(self) -> dict[str, int]:
        """How many sets were only counted, by reason."""
        lines = self.studio.trainer.only_counted(day_of(now()) - timedelta(days=9))
        return {line.why: line.sets for line in lines}

    def on_disk(self) -> int:
        """How many files lie in the studio's folder, whatever they are."""
        return sum(path.is_file() for path in self.studio.files.folder.rglob("*"))


@pytest.fixture
def room(studio: Studio, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    made = Room(studio, tmp_path)
    monkeypatch.setattr(studio_sets, "run_contained", made.run)
    return made


def test_each_set_waits_to_be_checked_under_the_name_on_its_card(room: Room) -> None:
    path = room.lands(likely(100.0, ILSE), likely(200.0, ODO), likely(300.0, ILSE))
    room.watch()
    assert room.kept() == [("Ilse", MACHINE), ("Odo", MACHINE), ("Ilse", MACHINE)]
    assert path.read_bytes() == b"a recording" and room.counted() == {}
    assert room.on_disk() == 3, "the three cuts as the page's clips, and nothing beside them"
    assert room.said[-1] == "monday.mp4: 3 kept, 0 only counted, in 0:10:00."


def test_of_who_shows_no_card_not_even_a_cut_is_made(room: Room) -> None:
    room.lands(likely(100.0), likely(200.0, 77), likely(300.0))
    room.watch()
    assert room.kept() == [] and room.cuts == [] and room.on_disk() == 0
    assert room.counted() == {"no-card": 2, "no-member": 1}
    with room.studio.database.read() as session:
        assert {row.day for row in session.scalars(select(FoundSet))} == {day_of(now())}


def test_who_told_of_pain_is_neither_cut_nor_checked(room: Room) -> None:
    room.studio.odo.tell_pain(room.studio.odo.actor.id, "left knee")
    room.lands(likely(100.0, ODO), likely(200.0, ILSE))
    room.watch()
    assert room.kept()[1:] == [("Ilse", MACHINE)] and room.kept()[0] == ("Odo", ""), "the telling alone"
    assert room.cuts == [191.0] and room.counted() == {"pain": 1}


def test_two_repetitions_are_no_set_and_are_not_counted(room: Room) -> None:
    room.lands(likely(100.0, ILSE, swings=5), likely(200.0, swings=5))
    room.watch()
    assert room.kept() == [] and room.cuts == [] and room.counted() == {}
    assert "Fewer than 3 repetitions were seen." in room.said[0]


def test_without_tags_the_machine_is_as_named_and_else_the_set_is_counted(room: Room) -> None:
    room.lands(likely(100.0, ILSE, tag=None))
    room.watch()
    assert room.kept() == [] and room.counted() == {"no-machine": 1}
    (room.folder / "monday.mp4").write_bytes(b"another recording")
    room.watch(MACHINE)
    assert room.kept() == [("Ilse", MACHINE)]
    assert TAG is not None and tagged_exercise(TAG).name == MACHINE  # type: ignore[union-attr]


def test_a_restart_takes_nothing_twice(room: Room) -> None:
    room.lands(likely(100.0, ILSE), likely(200.0))
    room.watch()
    room.watch()
    room.lands(*room.sets, name="copy of monday.mp4")
    room.watch()
    assert room.searched == 1 and room.kept() == [("Ilse", MACHINE)] and room.counted() == {"no-card": 1}


def _in(room: Room, monkeypatch: pytest.MonkeyPatch, place: Any, name: str, after: bool, turn: int) -> None:
    """Kill the process at a call: the how manieth, before it does anything or after it has."""
    whole, calls = getattr(place, name), iter(range(100))

    def kills(*args: Any, **more: Any) -> Any:
        if next(calls) != turn:
            return whole(*args, **more)
        if after:
            whole(*args, **more)
        raise Killed

    monkeypatch.setattr(place, name, kills)


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize(
    ("step", "turn"),
    [
        ("search or cut", 0),
        ("search or cut", 1),
        ("search or cut", 2),
        ("refused", 0),
        ("refused", 1),
        ("keep", 0),
        ("keep", 1),
        ("written down", 0),
        ("written down", 1),
        ("journal", 0),
    ],
)
def test_killed_at_any_moment_each_set_is_taken_once(
    room: Room, monkeypatch: pytest.MonkeyPatch, step: str, turn: int, after: bool
) -> None:
    places: dict[str, tuple[Any, str]] = {
        "search or cut": (studio_sets, "run_contained"),
        "refused": (studio_sets, "refused"),
        "keep": (room.studio.files, "keep"),
        "written down": (found_sets, "_keep"),
        "journal": (watched_module.Journal, "add"),
    }
    room.lands(likely(100.0, ILSE), likely(200.0), likely(300.0, ODO))
    with monkeypatch.context() as once:
        _in(room, once, *places[step], after=after, turn=turn)
        with pytest.raises(Killed):
            room.watch()
    room.watch()
    assert sorted(room.kept()) == [("Ilse", MACHINE), ("Odo", MACHINE)]
    assert room.counted() == {"no-card": 1} and room.on_disk() == 2
    with room.studio.database.read() as session:
        assert len(session.scalars(select(Job)).all()) == 2


def test_a_cut_that_a_kill_left_goes_when_the_command_starts_again(room: Room) -> None:
    files = room.studio.files
    for name in (room.folder, room.folder / "other"):
        left = files.folder / f".work-{work_name(name)}-abc"
        left.mkdir(parents=True)
        (left / "set.mp4").write_bytes(b"a cut")
    room.watch()
    assert [p.name for p in files.folder.glob(".work-*")] == [f".work-{work_name(room.folder / 'other')}-abc"]


def test_the_command_keeps_in_the_data_folder_which_recordings_it_took(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No member, no card: the set is counted, and the cut of a command that was killed is gone."""
    clock = [0.0]

    def later(_: float) -> None:
        clock.append(clock[-1] + watched_module.SETTLED_S)
        if len(clock) > 4:
            raise KeyboardInterrupt

    phone, data = tmp_path / "phone", tmp_path / "data"
    phone.mkdir()
    (phone / "monday.mp4").write_bytes(b"a recording")
    left = data / "files" / f".work-{work_name(phone)}-abc"
    left.mkdir(parents=True)
    monkeypatch.setenv("PLUMBSET_DATA", str(data))
    monkeypatch.setattr(time, "sleep", later)
    monkeypatch.setattr(watched_module, "CLOCK", lambda: clock[-1])
    monkeypatch.setattr(
        studio_sets, "run_contained", lambda *_: LikelySets(LENGTH_S, 200.0, (likely(100.0),))
    )
    command = ["watch", str(phone), "--studio"]
    assert cli.run(lambda: cli.app(command, standalone_mode=False)) == 0
    said = capsys.readouterr().out
    assert "only counted. No card was shown." in said and "0 kept, 1 only counted" in said
    assert not left.exists() and "monday.mp4" in (data / "watched" / "journal.jsonl").read_text()


def test_a_store_that_cannot_keep_is_tried_again_at_the_next_start(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: object) -> str:
        raise UsageError("The disk is full.")

    room.lands(likely(100.0), likely(200.0, ILSE))
    with monkeypatch.context() as broken:
        broken.setattr(room.studio.files, "keep", full)
        room.watch()
    assert "The disk is full." in room.said[-1] and room.counted() == {"no-card": 1}
    room.watch()
    assert room.kept() == [("Ilse", MACHINE)] and room.counted() == {"no-card": 1}


def test_what_cannot_be_read_stays_where_it_is(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    def unreadable(*_: object) -> None:
        raise ClipError("monday.mp4 is damaged.")

    path = room.lands(likely(100.0, ILSE))
    monkeypatch.setattr(studio_sets, "run_contained", unreadable)
    room.watch()
    assert path.exists() and room.said == ["monday.mp4 is damaged. monday.mp4 stays where it is."]


def test_yesterday_s_recording_goes_by_yesterday_s_answer(room: Room) -> None:
    """It was copied into the folder today without its time, but says by itself when it was recorded."""
    room.recorded_at = now() - timedelta(days=1)
    room.lands(likely(100.0, ILSE))
    room.watch()
    assert room.kept() == [] and room.counted() == {"not-asked": 1}


@pytest.mark.parametrize(
    ("says_h", "begun_h"), [(None, 9.0), (9.0, 9.0), (10.0, 9.0), (7.0, 7.0), (12.0, 9.0)],
    ids=["nothing", "its beginning", "its end", "an earlier one", "a later one"],
)  # fmt: skip
def test_a_recording_began_its_length_before_it_was_written(says_h: float | None, begun_h: float) -> None:
    midnight = datetime(2026, 3, 2, tzinfo=UTC)
    says = None if says_h is None else midnight + timedelta(hours=says_h)
    found = LikelySets(3600.0, 0.0, (), says)
    assert begun(found, midnight + timedelta(hours=10)) == midnight + timedelta(hours=begun_h)


def test_a_file_from_before_the_card_was_given_names_nobody(room: Room) -> None:
    path = room.lands(likely(100.0, ILSE))
    past = now().timestamp() - 3 * 86_400
    os.utime(path, (past, past))
    room.watch()
    assert room.counted() == {"no-member": 1}
