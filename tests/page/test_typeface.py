"""The page's typeface: its own file with its licence, from its own address, in four sizes of type."""

from __future__ import annotations

import hashlib
import re

import pytest
from fontTools.ttLib import TTFont

from app.page.theme import ASSETS, FONT, OURS, SIZES, TYPEFACE, TYPEFACE_AT, TYPEFACE_FILE, server_config
from app.page.typeface import with_typeface
from tests.page.test_packed import _ask

FILE = ASSETS / TYPEFACE_FILE
#: As it came from the registry; changed it would need another name.
AS_IT_CAME = "18b2a1a39a2fa298b0ba5390aca68462669826c90925656f1c1f6796e0e1bbaf"
#: What a first visit may pay for it, in bytes.
MOST = 60_000
#: Style sheets of the page and its parts; a size that is none of the four stands beside its reason.
SHEETS = ("page", "desk", "marks", "result", "loops", "sender", "outbox", "teller", "station")
FOUR = {"1rem", *(f"var(--{name})" for name in SIZES)}
#: What is read from two metres.
READ_FROM_AFAR = {
    "clamp(2rem,9vmin,4.5rem)", "clamp(3.4rem,17vmin,9rem)", "clamp(1.4rem,5vmin,2.6rem)",
    "clamp(5rem,26vmin,15rem)", "clamp(2rem,8vmin,4rem)",
}  # fmt: skip
#: The countdown across the camera; the key on a button; a link's word where a sign stands for it on a phone.
OTHERS = {"station": READ_FROM_AFAR, "sender": {"11rem"}, "desk": {".8em"}, "page": {"0"}}


def test_it_is_unchanged_small_and_has_its_licence_beside_it() -> None:
    data = FILE.read_bytes()
    assert hashlib.sha256(data).hexdigest() == AS_IT_CAME and len(data) < MOST
    licence = (ASSETS / "atkinson-hyperlegible-next-LICENSE.txt").read_text(encoding="utf-8")
    assert "SIL OPEN FONT LICENSE Version 1.1" in licence and TYPEFACE in licence


def test_it_has_the_signs_of_our_words_and_figures_that_line_up() -> None:
    font = TTFont(FILE)
    signs = font.getBestCmap()
    assert all(ord(sign) in signs for sign in "AZaz09äöüéñ–—°×−±’“”…·½")
    assert "tnum" in {record.FeatureTag for record in font["GSUB"].table.FeatureList.FeatureRecord}


def test_the_page_names_it_first_and_fetches_it_from_itself_once() -> None:
    config = server_config("127.0.0.1", 8501)
    assert FONT.startswith(f'"{TYPEFACE}"') and config["theme.font"] == FONT
    assert [face["url"] for face in config["theme.fontFaces"]] == [TYPEFACE_AT]
    status, headers, _ = _ask(f"{OURS}{TYPEFACE_FILE}", {})
    assert (status, headers["content-type"]) == (200, "font/woff2")
    assert "immutable" in headers["cache-control"]


@pytest.mark.parametrize("sheet", SHEETS)
def test_every_style_sheet_keeps_to_four_sizes(sheet: str) -> None:
    css = (ASSETS / f"{sheet}.css").read_text(encoding="utf-8")
    sizes = set(re.findall(r"font-size:([^;}!]+)", css))
    assert sizes <= FOUR | OTHERS.get(sheet, set())


@pytest.mark.parametrize("page", ["card", "member-cards", "sheet", "tags"])
def test_what_is_printed_names_no_typeface_of_its_own(page: str) -> None:
    html = (ASSETS / f"{page}.html").read_text(encoding="utf-8")
    assert re.findall(r"pt/[\d.]+ ([^;]+);", html) == ["{{ font }}"]


def test_a_report_leaves_with_it_inside_and_nothing_to_fetch() -> None:
    given = with_typeface(b"<style>body{}</style>").decode()
    assert "url(data:font/woff2;base64," in given and given.endswith("body{}</style>")
    assert with_typeface(b"") == b""
