"""The printed sheet: one page, in type as large as it allows, with only what was handed over."""

from __future__ import annotations

import pytest

from app.page import sheet
from app.page.sheet import SIZES, STOP, fitted, sheet_content, sheet_html, sheet_pdf
from shared.exercise import exercise_names
from tests.store.conftest import Studio
from tests.store.made import check, new_set

pytest.importorskip("weasyprint", reason="weasyprint is not installed: make setup")
OWN = "Stop <b>a hand's width</b> before straight. \u0141"


def _filled(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.decide(set_id, ["knee-lockout:4", "knee-lockout:9"], "reword", OWN)
    ilse = studio.ilse.actor.id
    studio.trainer.save_card(ilse, "leg-curl", seat="4", limits="left knee no further than 150 degrees")
    assert OWN not in str(sheet_content(studio.trainer, studio.ilse.me()))
    studio.trainer.release(set_id)


def words_of(document: object) -> str:
    """All text that stands on the pages."""
    found, boxes = [], [page._page_box for page in document.pages]  # type: ignore[attr-defined]
    while boxes:
        box = boxes.pop(0)
        found.append(getattr(box, "text", ""))
        boxes = list(getattr(box, "children", ())) + boxes
    return " ".join(found)


def test_the_sheet_is_one_page_with_settings_sets_and_what_was_handed_over(studio: Studio) -> None:
    _filled(studio)
    content = sheet_content(studio.trainer, studio.ilse.me())
    document = fitted(content)
    text = words_of(document)
    assert len(document.pages) == 1
    assert all(
        words in text for words in ("Ilse", "From your trainer", "150", "30 kg", "Stop <b>a", "\u0141")
    )
    assert sheet_pdf(studio.trainer, studio.ilse.me()).startswith(b"%PDF-")
    assert "&lt;b&gt;" in sheet_html(content, 12.0)


def test_the_type_is_as_large_as_one_page_allows(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    _filled(studio)
    ilse = studio.ilse.me()
    tried: list[float] = []

    def remembered(content: dict[str, object], size: float) -> str:
        tried.append(size)
        return sheet_html(content, size)

    monkeypatch.setattr(sheet, "sheet_html", remembered)
    fitted(sheet_content(studio.trainer, ilse))
    assert tried == list(SIZES[: len(tried)]) and tried[-1] >= 13.0
    tried.clear()
    for name in exercise_names():
        studio.trainer.save_card(ilse.id, name, seat="4", limits="a long word about what to avoid. " * 4)
    assert len(fitted(sheet_content(studio.trainer, ilse)).pages) == 1
    assert tried[-1] < 13.0


def test_nothing_is_fetched_for_a_sheet() -> None:
    from weasyprint.urls import URLFetcher

    with pytest.raises(ValueError, match="protocol"):
        URLFetcher(allowed_protocols=()).fetch("file:///etc/hostname")


def test_the_sheet_says_first_that_pain_stops_its_member_until_it_is_cleared(studio: Studio) -> None:
    _filled(studio)
    ilse = studio.ilse.actor.id
    assert STOP not in sheet_html(sheet_content(studio.trainer, studio.ilse.me()), 12.0)
    studio.ilse.tell_pain(ilse, "left knee")
    page = sheet_html(sheet_content(studio.trainer, studio.ilse.me()), 12.0)
    assert page.index(STOP) < page.index("<h2>")
    studio.trainer.clear_pain(ilse, studio.trainer.pain(ilse).last)
    assert STOP not in sheet_html(sheet_content(studio.trainer, studio.ilse.me()), 12.0)
