"""Who gets through the doors: sessions, the open page on this machine, links, forms and clips."""

from __future__ import annotations

import pytest

from app.page import studio
from app.store import signin
from app.store.database import AWAY, StoreTrouble
from tests.page.conftest import on_both
from tests.page.screens import Ask
from tests.store.conftest import Studio
from tests.store.made import check, new_set

GOOD = "a long enough sentence"


def _session(headers: dict[str, str]) -> str:
    return headers["set-cookie"].split(";")[0].removeprefix(f"{studio.COOKIE}=")


@pytest.mark.parametrize(
    "path", ["/", "/media/abc.jpg", "/kept/clip/1", "/waiting", "/_stcore/upload_file/a/b"]
)
def test_without_a_session_every_address_leads_to_the_door(ask: Ask, path: str) -> None:
    status, headers, _ = ask(path)
    assert (status, headers["location"]) == (303, "/enter")


@pytest.mark.parametrize("path", ["/", "/enter", "/media/abc.jpg", "/nowhere"])
def test_every_answer_allows_its_own_origin_alone_and_no_frame(ask: Ask, people: Studio, path: str) -> None:
    link = people.trainer.make_link(people.ilse.actor.id)
    _, headers, _ = ask(path, cookie=_session(ask(f"/enter/{link}")[1]))
    rules = dict(rule.split(" ", 1) for rule in headers["content-security-policy"].split("; "))
    assert rules["frame-ancestors"] == "'none'" and rules["default-src"] in ("'self'", "'none'")
    allowed = {word for rule in rules.values() for word in rule.split()}
    assert allowed <= {"'self'", "'none'", "'unsafe-inline'", "data:", "blob:"}


@pytest.mark.parametrize(("who", "status"), [("trainer", 200), ("ilse", 404), ("odo", 404)])
def test_files_of_a_trainers_page_go_to_trainers_alone(
    ask: Ask,
    people: Studio,
    who: str,
    status: int,
) -> None:
    with people.database.write() as session:
        secret = signin.make_pass(session, "session", people.all[who].actor.id, 1)
    assert ask("/media/abc.html", cookie=secret)[0] == status and ask("/", cookie=secret)[0] == 200


def test_without_a_session_no_connection_is_opened(ask: Ask) -> None:
    assert ask("/_stcore/stream", kind="websocket") == (1008, {}, "websocket.close")


@pytest.mark.parametrize(
    ("headers", "let_in"),
    [
        ({}, True),
        ({"host": "127.0.0.1:8501"}, True),
        ({"host": "[::1]:8501"}, True),
        ({"host": "studio.example"}, False),
        ({"host": "localhost.example:8501"}, False),
        ({"x_forwarded_for": "10.0.0.7"}, False),
        ({"forwarded": "for=10.0.0.7"}, False),
    ],
)
def test_only_this_very_machine_comes_in_directly(ask: Ask, headers: dict[str, str], let_in: bool) -> None:
    assert (ask("/", open_here=True, **headers)[0] == 200) is let_in
    assert ask("/", open_here=False, **headers)[0] == 303


def test_with_a_second_trainer_everyone_signs_in(ask: Ask, people: Studio) -> None:
    with people.database.write() as session:
        session.add(signin.Person(name="Bero", role="trainer"))
    assert ask("/", open_here=True)[0] == 303


def test_a_session_that_is_over_is_not_replaced_by_the_open_page(ask: Ask) -> None:
    assert ask("/", cookie="tampered", open_here=True)[0] == 303


@on_both
def test_a_personal_link_becomes_a_session_and_leaves_the_address(ask: Ask, people: Studio) -> None:
    link = people.trainer.make_link(people.ilse.actor.id)
    status, headers, _ = ask(f"/enter/{link}")
    assert (status, headers["location"]) == (303, "/")
    assert "httponly" in headers["set-cookie"].lower() and "samesite=lax" in headers["set-cookie"].lower()
    session = _session(headers)
    assert ask("/", cookie=session)[0] == 200
    people.trainer.revoke_links(people.ilse.actor.id)
    assert ask("/", cookie=session)[0] == 303
    assert ask(f"/enter/{link}")[0] == 400


@on_both
def test_signing_in_and_out(ask: Ask, people: Studio) -> None:
    signin.set_account(people.database, people.trainer.actor, "runa", GOOD)
    status, headers, _ = ask("/enter", form=f"login=runa&password={GOOD.replace(' ', '+')}")
    session = _session(headers)
    assert status == 303 and ask("/", cookie=session)[0] == 200
    assert ask("/leave", cookie=session)[0] == 303
    assert ask("/", cookie=session)[0] == 303


def test_a_wrong_password_is_told_on_the_form(ask: Ask) -> None:
    status, headers, body = ask("/enter", form="login=%3Cb%3E&password=wrong")
    assert status == 400 and signin.WRONG in body and "set-cookie" not in headers and "<b>" not in body


def test_a_form_from_another_page_is_refused(ask: Ask, people: Studio) -> None:
    signin.set_account(people.database, people.trainer.actor, "runa", GOOD)
    form = f"login=runa&password={GOOD.replace(' ', '+')}"
    assert ask("/enter", form=form, origin="http://evil.example")[0] == 403
    assert ask("/enter", form=form, origin="http://localhost:8501")[0] == 303


@pytest.mark.parametrize(("who", "status"), [("trainer", 200), ("ilse", 404), ("odo", 404)])
def test_a_clip_goes_to_trainers_alone(ask: Ask, people: Studio, who: str, status: int) -> None:
    set_id = new_set(people.ilse)
    check(people.database, people.files)
    with people.database.write() as session:
        secret = signin.make_pass(session, "session", people.all[who].actor.id, 1)
    got, headers, body = ask(f"/kept/clip/{set_id}", cookie=secret)
    assert got == status and ("drawn" in body) == (status == 200)
    assert "no-store" in headers["cache-control"] if status == 200 else True
    part = ask(f"/kept/clip/{set_id}", cookie=secret, range="bytes=1-2")
    assert part[2] == "ra" if status == 200 else part[0] == 404
    assert ask("/kept/clip/4711", cookie=secret)[0] == 404


@pytest.mark.parametrize(
    ("path", "kind", "status"),
    [("/", "http", 503), ("/enter", "http", 503), ("/leave", "http", 503), ("/kept/clip/1", "http", 503),
     ("/enter/abc", "http", 503), ("/", "websocket", 1013)],
)  # fmt: skip
def test_a_database_that_is_away_is_told_at_every_door(
    ask: Ask, monkeypatch: pytest.MonkeyPatch, path: str, kind: str, status: int
) -> None:
    def away(*_: object) -> None:
        raise StoreTrouble(AWAY)

    for name in ("who", "trainers", "sign_out", "open_link"):
        monkeypatch.setattr(signin, name, away)
    code, _, said = ask(path, cookie="x" * 43, kind=kind)
    assert code == status and (kind == "websocket" or said == AWAY)
