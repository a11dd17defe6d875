"""The report prints its hand-out on one A4, and all of itself once the trainer has opened the rest."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.page.test_browser import sync_api
from tests.samples import checked, clip_of
from vision.seeing.clip import open_clip
from vision.telling.write import write_outputs

pytestmark = pytest.mark.browser


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize("name", ["leg-extension-faulty", "shoulder-press-faulty"])
def test_the_hand_out_prints_on_one_page_and_the_rest_once_it_is_opened(
    browser: sync_api.Browser,
    tmp_path: Path,
    name: str,
) -> None:
    report = write_outputs(open_clip(clip_of(name)), checked(name)[0], tmp_path)
    page = browser.new_page()
    page.goto(report.as_uri())
    assert _pages(page.pdf(prefer_css_page_size=True)) == 1
    page.get_by_text("everything that was seen and measured").click()
    assert _pages(page.pdf(prefer_css_page_size=True)) > 2
