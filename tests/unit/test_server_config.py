"""What the page takes and shows of itself: the largest clip in one place, no error in words of the code."""

from __future__ import annotations

import re
from pathlib import Path

from app.page.theme import LARGEST_CLIP_MB, server_config

EXAMPLE = Path(__file__).parents[2] / "docs" / "nginx.conf"


def test_no_clip_larger_than_ten_minutes_of_a_phone_is_taken() -> None:
    """About 5 Mbit/s in 1080p and 40 in 4K: ten minutes are under 400 MB, and a minute of the finest."""
    assert server_config("127.0.0.1", 8501)["server.maxUploadSize"] == LARGEST_CLIP_MB
    assert 10 * 60 * 5 / 8 < LARGEST_CLIP_MB < 500


def test_the_example_in_front_of_the_page_takes_what_the_page_takes_and_little_more() -> None:
    taken = re.search(r"client_max_body_size (\d+)m;", EXAMPLE.read_text(encoding="utf-8"))
    assert taken is not None and LARGEST_CLIP_MB < int(taken[1]) <= LARGEST_CLIP_MB + 20


def test_the_page_keeps_its_guards_and_tells_nobody_anything() -> None:
    config = server_config("0.0.0.0", 8501)
    assert config["server.enableXsrfProtection"] and config["server.enableCORS"]
    assert config["client.showErrorDetails"] == "none" and config["browser.gatherUsageStats"] is False
    assert config["browser.serverAddress"] == "localhost"
