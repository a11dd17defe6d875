"""A station's addresses: what its link opens, and what a card tells."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from app.page import station
from app.page.station_seat import AGAIN_S, KEPT_S, Seats, key_at
from app.page.studio import COOKIE
from app.store import signin
from app.store.models import Person
from tests.page.station_phone import (
    MACHINE,
    STILL,
    Phone,
    card,
    nothing_lies_there,
    phone,
)

__all__ = ["card", "phone"]  # fixtures

# --- the link ---


def test_the_link_makes_a_browser_the_station_and_leaves_the_address(phone: Phone) -> None:
    status, headers, _ = phone.ask("GET", f"/station/enter/{phone.secret}", secret="none")
    kept = headers["set-cookie"].lower()
    assert (status, headers["location"]) == (303, "/station")
    assert f"{station.KEPT}={phone.secret.lower()}" in kept
    assert all(word in kept for word in ("httponly", "samesite=lax", "path=/station"))
    status, headers, page = phone.ask("GET", "/station")
    assert status == 200 and "Leg extension" in page and "Stop on sharp or joint pain" in page
    assert "script-src 'self';" in headers["content-security-policy"], "no script in the page itself"


@pytest.mark.parametrize(
    "path",
    ["/", "/week", "/_stcore/stream", "/media/x", "/kept/clip/1", "/kept/member/2", "/kept/sending/x"],
)  # fmt: skip
def test_the_link_opens_nothing_but_the_station(phone: Phone, path: str) -> None:
    status, headers, _ = phone.ask("GET", path)
    assert (status, headers.get("location")) == (303, "/enter") or status == 401
    session = phone.ask("GET", path, cookie=f"{COOKIE}={phone.secret}")
    assert session[0] in (303, 401), "nor does its secret as a session"
    assert phone.ask("GET", f"/enter/{phone.secret}")[0] == 400


ADDRESSES = [
    ("GET", "/station"), ("POST", "/station/card"), ("POST", "/station/framing"), ("POST", "/station/pain"),
    ("GET", "/station/set/x"), ("POST", "/station/sending"),
]  # fmt: skip


@pytest.mark.parametrize(("method", "path"), ADDRESSES)
def test_a_station_that_was_ended_is_refused_at_once(phone: Phone, method: str, path: str) -> None:
    (one,) = phone.studio.trainer.stations()
    phone.studio.trainer.end_station(one.key)
    assert phone.ask(method, path, [STILL], tus_resumable="1.0.0")[0] == 401
    assert phone.ask("GET", f"/station/enter/{phone.secret}")[0] == 401


@pytest.mark.parametrize(("method", "path"), ADDRESSES)
def test_a_session_is_no_station(phone: Phone, method: str, path: str) -> None:
    with phone.studio.database.write() as session:
        secret = signin.make_pass(session, "session", phone.studio.trainer.actor.id, 1)
    assert phone.ask(method, path, [STILL], cookie=f"{COOKIE}={secret}", tus_resumable="1.0.0")[0] == 401


def test_a_browser_in_which_somebody_is_signed_in_asks_first_and_signs_them_out(phone: Phone) -> None:
    with phone.studio.database.write() as rows:
        session = signin.make_pass(rows, "session", phone.studio.trainer.actor.id, 1)
    cookie, path = f"{COOKIE}={session}", f"/station/enter/{phone.secret}"
    status, headers, page = phone.ask("GET", path, cookie=cookie)
    assert status == 200 and "Runa is signed out here" in page and "set-cookie" not in headers
    assert phone.ask("POST", path, cookie=cookie, origin="http://evil.example")[0] == 403
    assert phone.ask("POST", path, cookie=cookie, origin="http://localhost:8501")[0] == 303
    assert signin.who(phone.studio.database, session) is None


@pytest.mark.parametrize("path", ["/station/card", "/station/pain", "/station/sending"])
def test_another_page_cannot_speak_for_a_station(phone: Phone, path: str) -> None:
    said = phone.ask(
        "POST", path, [STILL], origin="http://evil.example", tus_resumable="1.0.0", upload_length="9"
    )
    assert said[0] in (401, 403)


# --- stills and cards ---


def test_a_still_that_is_too_long_is_not_read_to_its_end(phone: Phone) -> None:
    status, _, said = phone.ask("POST", "/station/card", [b"x" * 1_000_000] * 3)
    assert status == 422 and "longer" in said


def test_a_card_counts_once_two_stills_in_a_row_show_it(phone: Phone, card: int) -> None:
    assert phone.show(card, times=1) == {"read": False}
    assert phone.show(None, times=1) == {"read": False}
    assert phone.show(card, times=1) == {"read": False}
    assert phone.show(card, times=1)["read"]


def test_of_whose_card_is_shown_the_first_name_is_said_and_nothing_kept(phone: Phone, card: int) -> None:
    with phone.studio.database.write() as session:
        session.get_one(Person, phone.studio.ilse.actor.id).name = "Ilse Marten"
    said = phone.show(card)
    assert said.pop("shown")
    assert said == {"read": True, "name": "Ilse", "stopped": False, "ask": True, "why": ""}
    assert nothing_lies_there(phone.studio)


def test_a_card_that_is_nobodys_and_one_of_who_has_not_agreed_are_told_so(phone: Phone, card: int) -> None:
    assert "nobody's now" in phone.show(199)["why"]
    with phone.studio.database.write() as session:
        session.get_one(Person, phone.studio.ilse.actor.id).consent_at = None
    assert "not agreed to be filmed" in phone.show(card)["why"]


def test_who_told_of_pain_reads_nothing_but_to_see_the_trainer(phone: Phone, card: int) -> None:
    phone.studio.ilse.tell_pain(phone.studio.ilse.actor.id, "knee")
    said = {"read": True, "shown": "", "name": "", "stopped": True, "ask": False, "why": ""}
    assert phone.show(card) == said


def test_a_yes_to_pain_stops_the_member_and_a_no_counts_for_the_day(phone: Phone, card: int) -> None:
    ilse = phone.studio.ilse
    shown = phone.show(card)["shown"]
    assert json.loads(phone.answer(shown, pain=False)[2])["ask"] is False
    assert ilse.denies_pain(ilse.actor.id)
    assert not phone.show(card)["ask"], "asked once a day"
    assert json.loads(phone.answer(shown, pain=True)[2])["stopped"] is True
    assert ilse.pain(ilse.actor.id).open and not ilse.denies_pain(ilse.actor.id)
    assert phone.answer(shown, pain=False)[0] == 422, "a later No takes nothing back"


def test_an_answer_needs_a_card_that_was_shown_to_this_station(phone: Phone, card: int) -> None:
    shown = phone.show(card)["shown"]
    other = phone.studio.trainer.make_station(MACHINE)
    words = json.dumps({"shown": shown, "pain": True}).encode()
    assert phone.ask("POST", "/station/pain", [words], secret=other)[0] == 422
    for word in ("guessed", "", str(card)):
        assert phone.answer(word, pain=True)[0] == 422
    assert phone.ask("POST", "/station/pain", [b"{"])[0] == 422
    assert not phone.studio.ilse.pain(phone.studio.ilse.actor.id).open


def test_a_card_is_forgotten_after_a_while_and_two_stills_must_not_be_far_apart() -> None:
    clock = [0.0]
    seats = Seats(b"key", lambda: clock[0])
    assert seats.saw("a", 7) is None
    clock[0] += AGAIN_S + 1
    assert seats.saw("a", 7) is None
    word = seats.saw("a", 7)
    assert word and seats.card("a", word) == 7 and seats.card("b", word) is None
    clock[0] += KEPT_S + 1
    assert seats.card("a", word) is None


def test_a_word_for_a_card_can_be_neither_changed_nor_made_with_another_key() -> None:
    seats, others = Seats(b"key", lambda: 0.0), Seats(b"other", lambda: 0.0)
    seats.saw("a", 7)
    word = seats.saw("a", 7)
    assert word and seats.card("a", word) == 7 and others.card("a", word) is None
    _, until, seal = word.split(".")
    for changed in (f"8.{until}.{seal}", f"7.9{until}.{seal}", f"7.{until}.", f".{seal}", "", seal):
        assert seats.card("a", changed) is None


def test_a_key_that_was_cut_off_is_made_anew_and_a_whole_one_stays(tmp_path: Path) -> None:
    path = tmp_path / "files" / "key"
    key = key_at(path)
    assert key_at(path) == key and path.stat().st_mode & 0o077 == 0
    path.write_bytes(b"")
    assert len(key_at(path)) == len(key) and key_at(path) != key


def test_the_framing_is_checked_for_the_stations_own_machine(phone: Phone) -> None:
    assert json.loads(phone.ask("POST", "/station/framing", [STILL])[2]) == [MACHINE]
