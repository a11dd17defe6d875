"""Where pain was told, every screen says so before anything else, and none of them coaches."""

from __future__ import annotations

import pytest

from app.rules import told
from tests.page.screens import Open, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set


@pytest.mark.parametrize(
    ("who", "screen", "said"),
    [
        ("ilse", "today", told.STOP),
        ("ilse", "results", told.STOP),
        ("trainer", "members", "Pain was told and not looked at"),
        ("trainer", "review", "Pain told before the set: left hip"),
        ("trainer", "waiting", "Pain told: left hip"),
    ],
    ids=["today", "results", "members", "review", "waiting"],
)
def test_every_screen_tells_of_the_pain_first(
    studio: Studio, open_page: Open, who: str, screen: str, said: str
) -> None:
    set_id = new_set(studio.ilse, pain=True, pain_where="left hip")
    check(studio.database, studio.files)
    query = {"set": str(set_id), "person": str(studio.ilse.actor.id)}
    text = read(open_page(studio.all[who], screen, **query))
    assert said in text
    if who == "ilse":
        assert 'role="alert"' in text and "emergency help" in text
        assert screen != "results" or "No coaching until your trainer has looked" in text
        assert "Knees locked out" not in text
