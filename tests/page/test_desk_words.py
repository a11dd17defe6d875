"""Words that cannot be kept, in a real browser: the box says why, and what was typed stays."""

from __future__ import annotations

import pytest

from tests.page.test_desk import TWO, Opened, _at_desk, expect, opened

__all__ = ["opened"]


@pytest.mark.browser
@pytest.mark.parametrize(
    ("typed", "said"),
    [("  ", "There are no words yet"), ("x" * 640, "Too long: 640 characters, at most 600")],
    ids=["empty", "too long"],
)
def test_words_that_cannot_be_kept_stay_in_the_box_with_the_reason(
    opened: Opened, typed: str, said: str
) -> None:
    studio, page = opened([TWO], "review?set=1")
    _at_desk(page, "Ilse")
    page.locator(".chips button", has_text="Chest dropping").click()
    page.keyboard.press("e")
    words = page.get_by_label("The prompt in your words: Chest dropping")
    words.fill(typed)
    page.get_by_role("button", name="Save these words").click()
    expect(page.locator(".box .hint")).to_contain_text(said)
    expect(words).to_have_value(typed)
    assert studio.trainer.said(1) == {} and page.wrong == []
