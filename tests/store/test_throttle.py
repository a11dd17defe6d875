"""Five attempts are free; then strangers share a slow rate, and a known browser has its own."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from app.store import signin, throttle
from app.store.models import Pass, Throttle, now
from app.store.retention import tidy
from tests.store.conftest import Studio

GOOD, WRONG = "a long enough sentence", "a wrong one"


@pytest.fixture
def later(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Let so many seconds pass."""
    clock = [now()]
    for module in (signin, throttle):
        monkeypatch.setattr(module, "now", lambda: clock[0])

    def passes(seconds: float) -> None:
        clock[0] += timedelta(seconds=seconds)

    return passes


def test_after_five_tries_there_is_one_every_two_minutes_and_it_never_gets_worse(
    studio: Studio, later: Callable[[float], None]
) -> None:
    for _ in range(5):
        throttle.count_attempt(studio.database, "login:runa")
    for _ in range(12):
        with pytest.raises(signin.NotLetIn, match="Too many wrong attempts; wait 120 s"):
            throttle.count_attempt(studio.database, "login:runa")
        later(119)
        with pytest.raises(signin.NotLetIn):
            throttle.count_attempt(studio.database, "login:runa")
        later(1)
        throttle.count_attempt(studio.database, "login:runa")
    throttle.count_attempt(studio.database, "login:ilse")


def test_tries_are_forgotten_after_an_hour_in_which_nobody_tried(
    studio: Studio, later: Callable[[float], None]
) -> None:
    for _ in range(5):
        throttle.count_attempt(studio.database, "login:runa")
    later(120 + 3600 + 1)
    for _ in range(5):
        throttle.count_attempt(studio.database, "login:runa")
    with pytest.raises(signin.NotLetIn):
        throttle.count_attempt(studio.database, "login:runa")


def test_an_attempt_counts_before_it_is_looked_at(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """Attempts made at once would otherwise all be free."""

    def looked_at(*_: object) -> bool:
        raise RuntimeError("on the way to the password")

    monkeypatch.setattr(signin, "_HASHER", type("Hasher", (), {"verify": looked_at})())
    for _ in range(5):
        with pytest.raises(RuntimeError):
            signin.sign_in(studio.database, "runa", GOOD)
    with pytest.raises(signin.NotLetIn, match="Too many"):
        signin.sign_in(studio.database, "runa", GOOD)


def _known(studio: Studio) -> str:
    signin.set_account(studio.database, studio.trainer.actor, "Runa", GOOD)
    device = signin.know_device(studio.database, signin.sign_in(studio.database, "runa", GOOD), None)
    assert device is not None
    return device


def test_strangers_guesses_keep_no_known_browser_out(studio: Studio) -> None:
    device = _known(studio)
    for _ in range(5):
        with pytest.raises(signin.NotLetIn, match="wrong"):
            signin.sign_in(studio.database, "runa", WRONG)
    with pytest.raises(signin.NotLetIn, match="Too many"):
        signin.sign_in(studio.database, "runa", GOOD)
    assert signin.sign_in(studio.database, "runa", GOOD, device)


def test_who_guesses_on_a_known_browser_waits_there_and_nobody_else(studio: Studio) -> None:
    device = _known(studio)
    for _ in range(5):
        with pytest.raises(signin.NotLetIn, match="wrong"):
            signin.sign_in(studio.database, "runa", WRONG, device)
    with pytest.raises(signin.NotLetIn, match="Too many"):
        signin.sign_in(studio.database, "runa", GOOD, device)
    assert signin.sign_in(studio.database, "runa", GOOD)


def test_a_browser_is_known_for_the_trainer_who_signed_in_there_alone(studio: Studio) -> None:
    device = _known(studio)
    link = studio.trainer.make_link(studio.ilse.actor.id)
    assert signin.know_device(studio.database, signin.open_link(studio.database, link), device) is None
    for _ in range(5):
        with pytest.raises(signin.NotLetIn, match="wrong"):
            signin.sign_in(studio.database, "bero", WRONG, device)
    with pytest.raises(signin.NotLetIn, match="Too many"):
        signin.sign_in(studio.database, "bero", WRONG, device)
    assert signin.who(studio.database, device) is None, "it lets nobody in"
    with pytest.raises(signin.NotLetIn):
        signin.open_link(studio.database, device)


def test_what_lets_nobody_in_any_more_is_tidied_away(studio: Studio, later: Callable[[float], None]) -> None:
    device = _known(studio)
    gone, kept = (studio.trainer.make_link(studio.ilse.actor.id) for _ in range(2))
    over = signin.open_link(studio.database, kept)
    _expire(studio, gone, now() - timedelta(hours=1))
    signin.sign_out(studio.database, over)
    with pytest.raises(signin.NotLetIn):
        signin.sign_in(studio.database, "nobody", WRONG)
    tidy(studio.database, studio.files, None)
    with studio.database.read() as session:
        left = {row.kind: row for row in session.query(Pass)}
        assert sorted(row.kind for row in session.query(Pass)) == ["device", "link", "session"]
        assert left["link"].hash == signin.hashed(kept) and session.query(Throttle).count() == 1
    later(3601)
    tidy(studio.database, studio.files, None)
    with studio.database.read() as session:
        assert session.query(Throttle).count() == 0
    assert signin.sign_in(studio.database, "runa", GOOD, device)


def _expire(studio: Studio, secret: str, at: datetime) -> None:
    with studio.database.write() as session:
        session.get_one(Pass, signin.hashed(secret)).expires_at = at
