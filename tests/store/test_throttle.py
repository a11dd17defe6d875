"""Five attempts are free; then each has to wait twice as long as the one before, an hour at most."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.store import signin
from app.store.models import now
from tests.store.conftest import Studio


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_who_tries_passwords_waits_longer_and_longer(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [now()]
    monkeypatch.setattr(signin, "now", lambda: clock[0])
    for _ in range(5):
        signin._count_attempt(studio.database, "login:runa")
    for wait in (30, 60, 120, 240, 480, 960, 1920, 3600, 3600):
        with pytest.raises(signin.NotLetIn, match="Too many wrong attempts"):
            signin._count_attempt(studio.database, "login:runa")
        clock[0] += timedelta(seconds=wait - 1)
        with pytest.raises(signin.NotLetIn):
            signin._count_attempt(studio.database, "login:runa")
        signin._count_attempt(studio.database, "login:ilse" if wait == 30 else f"login:other {wait}")
        clock[0] += timedelta(seconds=1)
        signin._count_attempt(studio.database, "login:runa")


@pytest.mark.parametrize("database", ["sqlite"], indirect=True)
def test_an_attempt_counts_before_it_is_looked_at(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    """Attempts made at once would otherwise all be free."""

    def looked_at(*_: object) -> bool:
        raise RuntimeError("on the way to the password")

    monkeypatch.setattr(signin, "_HASHER", type("Hasher", (), {"verify": looked_at})())
    for _ in range(5):
        with pytest.raises(RuntimeError):
            signin.sign_in(studio.database, "runa", "a long enough sentence")
    with pytest.raises(signin.NotLetIn, match="Too many"):
        signin.sign_in(studio.database, "runa", "a long enough sentence")
