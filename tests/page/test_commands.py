"""The commands around the page."""

from __future__ import annotations

import errno
import os
import re
import socket
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app import cli
from app.command import page as commands
from app.page import demo_history, demo_studio
from app.page.studio import COOKIE
from app.page.theme import server_config
from app.rules.studio_file import read_studio
from app.rules.week import digest
from app.store.agreement import agreement
from app.store.database import open_database
from app.store.digest import trained
from app.store.models import Job, Person, TrainingSet
from app.store.settings import store_settings
from shared.errors import UsageError

ROOT = Path(__file__).parents[2]


@pytest.fixture
def own_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("PLUMBSET_DATABASE_URL", raising=False)
    monkeypatch.setenv("PLUMBSET_DOOR", "sign-in")
    return tmp_path / "data"


def test_postgresql_is_one_setting(own_store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert store_settings().database_url == f"sqlite:///{own_store / 'plumbset.db'}"
    monkeypatch.setenv("PLUMBSET_DATABASE_URL", "postgresql://studio@db/plumbset")
    assert store_settings().database_url == "postgresql+psycopg://studio@db/plumbset"


def test_a_busy_port_names_the_next_free_one_and_takes_it(capsys: pytest.CaptureFixture[str]) -> None:
    pytest.importorskip("streamlit")
    with socket.socket() as taken, socket.socket() as ours:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        busy = taken.getsockname()[1]
        free = commands._free_port(busy, "127.0.0.1")
        ours.bind(("127.0.0.1", free))
        assert free > busy
        assert capsys.readouterr().out == f"Port {busy} is busy; taking the next free one, {free}.\n"


def _ports(monkeypatch: pytest.MonkeyPatch, troubles: dict[int, int]) -> None:
    """Ports with the number of their error; all others are free."""
    pytest.importorskip("streamlit")
    found = {port: OSError(code, os.strerror(code)) for port, code in troubles.items()}
    monkeypatch.setattr(commands, "_trouble_at", lambda port, host: found.get(port))


def test_a_free_port_is_taken_without_a_word(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    _ports(monkeypatch, {8600: errno.EADDRINUSE})
    assert commands._free_port(8501, "127.0.0.1") == 8501
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(
    ("asked", "troubles", "said"),
    [
        (80, {80: errno.EACCES}, "Port 80 cannot be used .*choose another with --port"),
        (8501, dict.fromkeys(range(8501, 8701), errno.EADDRINUSE), "8501 and those after it are busy"),
        (65_535, {65_535: errno.EADDRINUSE}, "65535 and those after it are busy"),
    ],
)
def test_where_no_port_can_be_had_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, asked: int, troubles: dict[int, int], said: str
) -> None:
    _ports(monkeypatch, troubles)
    with pytest.raises(UsageError, match=said):
        commands._free_port(asked, "127.0.0.1")


@pytest.mark.parametrize("command", ["app", "demo-studio"])
def test_both_pages_run_on_the_port_that_was_free(
    command: str, own_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _ports(monkeypatch, {8600: errno.EADDRINUSE, 8601: errno.EADDRINUSE})
    ran: list[tuple[Path, str, int]] = []
    monkeypatch.setattr(commands, "run_page", lambda data, host, port, *_: ran.append((data, host, port)))
    monkeypatch.setattr(demo_studio, "build", lambda folder: [])
    monkeypatch.setattr(commands, "use_store", lambda folder: None)
    demo = tmp_path / "demo"
    more = ["--folder", str(demo)] if command == "demo-studio" else []
    assert cli.run(lambda: cli.app([command, "--port", "8600", *more], standalone_mode=False)) == 0
    assert ran == [(demo if more else own_store, "127.0.0.1", 8602)]


@pytest.mark.parametrize("target", ["app", "demo-studio"])
@pytest.mark.parametrize(("given", "said"), [([], ""), (["PORT=8600"], "--port 8600")])
def test_make_hands_the_port_on(target: str, given: list[str], said: str) -> None:
    own = {k: v for k, v in os.environ.items() if not k.startswith(("MAKE", "MFLAGS"))}  # make test runs this
    done = subprocess.run(
        ["make", "-n", target, *given],
        cwd=ROOT,
        env=own,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    last = done.stdout.strip().splitlines()[-1]
    assert last.split(f"plumbset {target}")[1].strip() == said


def test_the_demo_studio_has_a_session_cookie_of_its_own(tmp_path: Path) -> None:
    code = (
        "import sys, pathlib, subprocess, app.command.page as page\n"
        "page.use_store(pathlib.Path(sys.argv[1]))\n"
        "subprocess.run([sys.executable, '-c', 'import app.page.studio as s; print(s.COOKIE)'], check=True)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() not in ("", COOKIE)


def test_nothing_wider_than_this_machine_without_a_password(own_store: Path) -> None:
    from app.page.studio import this_studio
    from app.store import signin
    from app.store.database import migrate

    database = this_studio().database
    migrate(database)
    code = signin.offer_first_code(database)
    assert code is not None
    signin.become_first_trainer(database, code, "Runa", "", "")
    with pytest.raises(UsageError, match="needs a password"):
        commands.run_page(own_store, "0.0.0.0", 1, 1, "sign-in")
    database.close()


@pytest.mark.parametrize(
    ("host", "sign_in", "door"),
    [
        ("127.0.0.1", None, "link"), ("localhost", True, "sign-in"), ("::1", False, "open"),
        ("0.0.0.0", None, "sign-in"), ("192.168.0.4", True, "sign-in"),
    ],
)  # fmt: skip
def test_how_people_come_in(host: str, sign_in: bool | None, door: str) -> None:
    assert commands.door_of(host, sign_in) == door


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.0.4", "studio.example"])
def test_without_sign_in_nothing_listens_beyond_this_machine(
    host: str, own_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from app.serve import serve

    with pytest.raises(UsageError, match="this machine alone"):
        commands.door_of(host, False)
    monkeypatch.setenv("PLUMBSET_DOOR", "open")
    with pytest.raises(UsageError, match="this machine alone"):
        serve(host, 1)


@pytest.mark.parametrize("door", ["link", "sign-in", "open"])
def test_a_start_says_how_to_come_in_and_how_long_clips_are_kept(
    door: str, own_store: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from app.page.studio import this_studio
    from app.store import signin

    monkeypatch.setattr(commands, "_serve", lambda *_: None)
    commands.run_page(own_store, "127.0.0.1", 8501, 1, door)
    first = capsys.readouterr().out
    code = re.search(r"trainer: ([A-Z0-9-]{14})", first)
    assert code and "/enter/" not in first and "for 90 days" in first
    database = this_studio().database
    signin.become_first_trainer(database, code[1], "Runa", "", "")
    commands.run_page(own_store, "127.0.0.1", 8501, 1, door)
    said = capsys.readouterr().out
    link = re.search(r"http://localhost:8501/enter/(\S{43})\n", said)
    assert (link is not None) is (door == "link")
    assert ("every program on it, is the trainer" in said) is (door == "open")
    if link:
        assert signin.who(database, signin.open_link(database, link[1])).name == "Runa"
    database.close()


def test_the_server_keeps_its_protections_and_calls_nobody() -> None:
    config = server_config("127.0.0.1", 8501)
    assert config["server.enableXsrfProtection"] and config["server.enableCORS"]
    assert config["browser.gatherUsageStats"] is False and config["client.showErrorDetails"] == "none"


def test_the_demo_studio_is_made_once_and_thrown_away(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    demo_studio.build(folder)
    database = open_database(f"sqlite:///{folder / 'plumbset.db'}")
    with database.read() as session:
        people, sets = session.query(Person).count(), session.query(TrainingSet).count()
        jobs, decided = session.query(Job).count(), agreement(session)
        members = trained(session, datetime.now(UTC).date(), 60)
    week = digest(members, read_studio(folder).load, datetime.now(UTC).date())
    database.close()
    clips = len(list(demo_history.CLIPS.glob("*.mp4")))
    assert people == 1 + len(demo_studio.MEMBERS) and jobs == clips
    assert sets == clips + len(demo_history.HISTORY) + 1
    assert sorted(line.doubtful for line in decided) == [False, True], "a limit to think about"
    assert [(line.name, line.exercise) for line in week.slipping] == [("Bero", "chest-press")]
    due = {(line.name, line.exercise): line.words for line in week.due}
    assert set(due) == {("Odo", "lat-pulldown"), ("Wenke", "shoulder-press")}
    assert due["Odo", "lat-pulldown"].startswith("Go up to 40 kg?")
    assert due["Wenke", "shoulder-press"].endswith("Done after the chest press that day, so already tired.")
    assert "already" in demo_studio.build(folder)[0]
    demo_studio.remove(folder)
    assert not folder.exists()


def test_no_other_folder_is_filled_or_thrown_away(tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(UsageError, match="something else"):
        demo_studio.build(tmp_path)
    with pytest.raises(UsageError, match="no demo studio"):
        demo_studio.remove(tmp_path)
    assert (tmp_path / "letter.txt").read_text(encoding="utf-8") == "mine"
