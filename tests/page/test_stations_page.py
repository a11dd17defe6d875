"""Stations on the page: a link is made and shown once, those that stand are listed and ended."""

from __future__ import annotations

import re

from app.store.stations import station_of
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio


def test_a_trainer_makes_a_link_for_a_machine_and_ends_it(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.trainer, "account", tab="Stations")
    page.selectbox[0].select("leg-curl")
    click(page, "Make a station link")
    found = re.search(r"/station/enter/(\S{43})", page.code[0].value)
    assert found and (station := station_of(studio.database, found[1])) and station.exercise == "leg-curl"
    said = read(page)
    assert all(words in said for words in ("Seated leg curl", "by Runa", "Shown only now"))
    again = open_page(studio.trainer, "account", tab="Stations")
    assert not again.code, "the link is not shown again"
    click(again, "End it")
    assert station_of(studio.database, found[1]) is None and "End it" not in labels(again)
