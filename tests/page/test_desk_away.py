"""The desk in a real browser while the database is held by someone else: nothing done there is lost."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import Any

import pytest

from app.views.desk import NOT_HANDED_OVER, STILL_HERE
from tests.page.desk_studio import TWO
from tests.page.test_desk import SOON, Opened, _at_desk, _said_soon, _waits, expect, opened

__all__ = ["opened"]


def _hand_over(page: Any) -> Any:
    return page.locator('.talk > .bar button[title^="Hand over"]')


@pytest.mark.browser
def test_what_was_decided_while_nothing_could_be_kept_stays_and_goes_first(opened: Opened) -> None:
    studio, page = opened([TWO], "review?set=1")
    _at_desk(page, "Ilse")
    chips = page.locator(".chips")
    with closing(sqlite3.connect(studio.data / "plumbset.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        page.keyboard.type("xh")
        page.keyboard.press("Enter")
        expect(_hand_over(page)).to_be_disabled()
        wrong = page.get_by_text(STILL_HERE)
        expect(wrong).to_contain_text(NOT_HANDED_OVER, timeout=SOON)
        expect(chips).to_contain_text("No fault")
        expect(_hand_over(page)).to_be_enabled(timeout=SOON)
        assert _waits(studio) and studio.trainer.said(1) == {}
        other.execute("ROLLBACK")
    page.keyboard.type("x")
    kinds = {key: _said_soon(page, studio, key).kind for key in ("chest-drop:11", "knee-lockout:4")}
    assert set(kinds.values()) == {"no-fault"} and len(studio.trainer.said(1)) == 3
    expect(wrong).to_have_count(0, timeout=SOON)
    page.keyboard.type("h")
    expect(page.get_by_role("heading", name="Nothing to review").first).to_be_visible(timeout=SOON)
    assert not _waits(studio) and studio.members[0].told(1).prompts == [] and page.wrong == []
