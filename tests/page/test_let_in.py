"""Letting a trainer in, in a real browser: as people press, once or twice."""

from __future__ import annotations

import pytest

from tests.page.desk_studio import CLEAR
from tests.page.test_desk import SOON, Opened, _settled, expect, opened

__all__ = ["opened"]


@pytest.mark.browser
@pytest.mark.parametrize("press", ["click", "dblclick"])
def test_one_press_or_two_let_one_trainer_in(opened: Opened, press: str) -> None:
    studio, page = opened([CLEAR], "studio?tab=Trainers")
    _settled(page)
    page.get_by_label("A new trainer's name").fill("Maren")
    getattr(page.get_by_role("button", name="Let them in"), press)()
    expect(page.locator("code", has_text="/enter/")).to_be_visible(timeout=SOON)
    _settled(page)
    assert [line.name for line in studio.trainer.trainers()] == ["Runa", "Maren"]
    expect(page.get_by_label("A new trainer's name")).to_have_value("")
