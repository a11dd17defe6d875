"""The commands around the page."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from app.command import page as commands
from app.page import demo_studio
from app.page.theme import server_config
from app.store.agreement import agreement
from app.store.database import open_database
from app.store.models import Job, Person, TrainingSet
from app.store.settings import store_settings
from shared.errors import UsageError


@pytest.fixture
def own_store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path / "data"))
    monkeypatch.delenv("PLUMBSET_DATABASE_URL", raising=False)
    monkeypatch.setenv("PLUMBSET_SIGN_IN", "1")
    return tmp_path / "data"


def test_postgresql_is_one_setting(own_store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert store_settings().database_url == f"sqlite:///{own_store / 'plumbset.db'}"
    monkeypatch.setenv("PLUMBSET_DATABASE_URL", "postgresql://studio@db/plumbset")
    assert store_settings().database_url == "postgresql+psycopg://studio@db/plumbset"


def test_a_taken_port_is_one_sentence() -> None:
    pytest.importorskip("streamlit")
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(UsageError, match="choose another with --port"):
            commands._ready(taken.getsockname()[1], "127.0.0.1")


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
        commands.run_page(own_store, "0.0.0.0", 1, 1, False)
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
    database.close()
    clips = len(list(demo_studio.CLIPS.glob("*.mp4")))
    assert people == 1 + len(demo_studio.MEMBERS) and jobs == clips
    assert sets == clips + len(demo_studio.HISTORY) + 1
    assert [line.doubtful for line in decided] == [True], "a limit to think about"
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
