"""The tempo that is asked: set by a trainer, read by the member, and the band of the tempo page."""

from __future__ import annotations

import pytest

from app.page.tempo import band
from tests.page.screens import Open, click, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set


def test_the_studios_tempo_is_kept_and_read_where_a_member_films(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.trainer, "account", tab="Settings")
    up, down = (n for n in page.number_input if n.label.startswith("Seconds"))
    assert (up.label, down.label) == ("Seconds up", "Seconds down")
    up.set_value(2.0)
    down.set_value(3.0)
    click(page, "Save the tempo")
    film = open_page(studio.ilse, "film", machine="leg-curl").button_group[0].set_value("No").run()
    assert "2 seconds down, 3 seconds up" in read(film), "a leg curl's load rises as the legs go down"


def test_the_cards_tempo_takes_the_place_of_the_studios(studio: Studio, open_page: Open) -> None:
    studio.trainer.ask_tempo(2.0, 3.0)
    studio.trainer.save_card(studio.ilse.actor.id, "leg-extension", lift_s=1.0, lower_s=4.0)
    film = open_page(studio.ilse, "film", machine="leg-extension").button_group[0].set_value("No").run()
    assert "1 second up, 4 seconds down" in read(film) and "3 seconds" not in read(film)


def test_the_band_of_the_tempo_page_follows_what_is_asked(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse)
    check(studio.database, studio.files)
    assert "1 to 2 s each way, a moderate pace" in read(open_page(studio.ilse, "tempo"))
    studio.trainer.ask_tempo(2.0, 3.0)
    assert "asked: 2 seconds up, 3 seconds down" in read(open_page(studio.ilse, "tempo"))
    assert band(2.0) == pytest.approx((1.5, 2.5))
