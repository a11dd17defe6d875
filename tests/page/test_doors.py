"""Who gets through the doors: sessions, the open page on this machine, links, forms and clips."""

from __future__ import annotations

from datetime import datetime, timedelta, tzinfo

import pytest

from app.page import guard, studio
from app.store import signin
from app.store.database import AWAY, StoreTrouble
from tests.page.conftest import on_both
from tests.page.screens import Ask
from tests.store.conftest import Studio
from tests.store.made import check, new_set

GOOD = "a long enough sentence"


def _session(headers: dict[str, str]) -> str:
    return _cookies(headers)[studio.COOKIE]


def _cookies(headers: dict[str, str]) -> dict[str, str]:
    lines = [line.split(";")[0].partition("=") for line in headers["set-cookie"].split("\n")]
    return {name: value for name, _, value in lines}


@pytest.mark.parametrize(
    "path", ["/", "/media/abc.jpg", "/kept/clip/1", "/kept/member/1", "/waiting", "/_stcore/upload_file/a/b"]
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
    "headers",
    [
        {}, {"host": "127.0.0.1:8501"}, {"host": "127.0.0.1:8501", "connection": "close"},
        {"host": "studio.example"}, {"x_forwarded_for": "10.0.0.7"},
    ],
    ids=["this machine", "by number", "a proxy's own headers", "another name", "a proxy that says so"],
)  # fmt: skip
@pytest.mark.parametrize("door", ["link", "sign-in"])
def test_nobody_comes_in_for_being_on_this_machine(ask: Ask, headers: dict[str, str], door: str) -> None:
    assert ask("/", door=door, **headers)[0] == 303
    assert ask("/_stcore/stream", door=door, kind="websocket", **headers)[0] == 1008


@on_both
def test_the_link_of_a_start_becomes_a_session_until_the_next_start(ask: Ask, people: Studio) -> None:
    first = signin.new_start(people.database, with_link=True)
    status, headers, _ = ask(f"/enter/{first}")
    session = _session(headers)
    assert (status, headers["location"]) == (303, "/") and ask("/", cookie=session)[0] == 200
    assert signin.who(people.database, session) == people.trainer.actor
    second = signin.new_start(people.database, with_link=True)
    assert second != first and ask(f"/enter/{first}")[0] == 400
    assert ask("/", cookie=session)[0] == 303
    assert ask(f"/enter/{second}")[0] == 303


def test_the_link_of_a_start_is_for_the_owner_so_that_nobody_is_locked_out(people: Studio) -> None:
    assert signin.new_start(people.database, with_link=False) is None
    with people.database.write() as session:
        session.add(signin.Person(name="Bero", role="trainer"))
    secret = signin.new_start(people.database, with_link=True)
    assert secret is not None
    session = signin.open_link(people.database, secret)
    assert signin.who(people.database, session) == people.trainer.actor


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 200),
        ({"host": "127.0.0.1:8501"}, 200),
        ({"host": "[::1]:8501"}, 200),
        ({"host": "studio.example"}, 403),
        ({"host": "localhost.example:8501"}, 403),
        ({"x_forwarded_for": "10.0.0.7"}, 403),
        ({"x_forwarded_proto": "https"}, 403),
        ({"x_real_ip": "10.0.0.7"}, 403),
        ({"forwarded": "for=10.0.0.7"}, 403),
    ],
)
def test_without_sign_in_only_what_names_this_machine_and_no_proxy_is_answered(
    ask: Ask, people: Studio, headers: dict[str, str], status: int
) -> None:
    with people.database.write() as rows:
        secret = signin.make_pass(rows, "session", people.trainer.actor.id, 1)
    for cookie in (None, secret):
        assert ask("/", cookie=cookie, door="open", **headers)[0] == status, "not even with a session"
    assert ask("/enter", door="open", **headers)[0] == status
    if status == 403:
        assert ask("/_stcore/stream", door="open", kind="websocket", **headers)[0] == 1008


def test_with_a_second_trainer_everyone_signs_in(ask: Ask, people: Studio) -> None:
    with people.database.write() as session:
        session.add(signin.Person(name="Bero", role="trainer"))
    assert ask("/", door="open")[0] == 303


def test_a_session_that_is_over_is_not_replaced_by_the_open_page(ask: Ask) -> None:
    assert ask("/", cookie="tampered", door="open")[0] == 303


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
    assert ask("/leave", cookie=session)[0] == 200
    assert ask("/leave", cookie=session, form="", origin="http://evil.example")[0] == 403
    assert ask("/", cookie=session)[0] == 200, "neither an address nor another page signs anybody out"
    assert ask("/leave", cookie=session, form="")[0] == 303
    assert ask("/", cookie=session)[0] == 303


def test_who_has_no_login_reads_so_before_they_sign_out(ask: Ask, people: Studio) -> None:
    secret = signin.session_for(people.database, people.trainer.actor)
    said = ask("/leave", cookie=secret)[2]
    assert "You have no login yet" in said and "window in which Plumbset was started" in said
    invited = _session(ask(f"/enter/{people.trainer.invite_trainer('Bero')}", form="")[1])
    assert "the owner has to let you in anew" in ask("/leave", cookie=invited)[2]
    signin.set_account(people.database, people.trainer.actor, "runa", GOOD)
    again = signin.sign_in(people.database, "runa", GOOD)
    link = people.trainer.make_link(people.ilse.actor.id)
    for cookie in (again, _session(ask(f"/enter/{link}")[1]), "unknown", None):
        assert "no login" not in ask("/leave", cookie=cookie)[2]
    assert "If none stands there, start Plumbset anew" in ask("/enter")[2]


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


@pytest.mark.parametrize(("who", "status"), [("trainer", 200), ("ilse", 404), ("odo", 404)])
def test_a_members_zip_goes_to_trainers_alone_and_is_gone_afterwards(
    ask: Ask, people: Studio, who: str, status: int
) -> None:
    set_id = new_set(people.ilse)
    check(people.database, people.files)
    with people.database.write() as session:
        secret = signin.make_pass(session, "session", people.all[who].actor.id, 1)
    got, headers, body = ask(f"/kept/member/{people.ilse.actor.id}", cookie=secret)
    assert got == status and body.startswith("PK") == (status == 200)
    if status == 200:
        assert headers["content-disposition"] == f'attachment; filename="member-{people.ilse.actor.id}.zip"'
        assert [look.set_id for look in people.trainer.looks()] == [set_id], "they have the pictures now"
    assert not list(people.files.folder.glob(".part-*"))


@pytest.mark.parametrize(
    ("path", "kind", "status"),
    [("/", "http", 503), ("/enter", "http", 503), ("/leave", "POST", 503), ("/kept/clip/1", "http", 503),
     ("/enter/abc", "http", 503), ("/", "websocket", 1013)],
)  # fmt: skip
def test_a_database_that_is_away_is_told_at_every_door(
    ask: Ask, monkeypatch: pytest.MonkeyPatch, path: str, kind: str, status: int
) -> None:
    def away(*_: object) -> None:
        raise StoreTrouble(AWAY)

    for name in ("who", "trainers", "sign_out", "open_link", "belongs_to"):
        monkeypatch.setattr(signin, name, away)
    method, kind = (kind, "http") if kind == "POST" else ("", kind)
    code, _, said = ask(path, cookie="x" * 43, kind=kind, method=method)
    assert code == status and (kind == "websocket" or said == AWAY)


def test_a_personal_link_in_a_trainers_browser_asks_first(ask: Ask, people: Studio) -> None:
    link = people.trainer.make_link(people.ilse.actor.id)
    with people.database.write() as rows:
        trainer = signin.make_pass(rows, "session", people.trainer.actor.id, 1)
        member = signin.make_pass(rows, "session", people.odo.actor.id, 1)
    status, headers, body = ask(f"/enter/{link}", cookie=trainer)
    assert status == 200 and "set-cookie" not in headers
    assert "Open Ilse's page?" in body and f'action="/enter/{link}"' in body
    assert ask(f"/enter/{link}", door="open")[0] == 200, "so it does where nobody signs in"
    assert ask(f"/enter/{link}", cookie=trainer, form="", origin="http://evil.example")[0] == 403
    status, headers, _ = ask(f"/enter/{link}", cookie=trainer, form="", origin="http://localhost:8501")
    assert status == 303 and signin.who(people.database, _session(headers)) == people.ilse.actor
    assert ask(f"/enter/{link}", cookie=member)[0] == 303
    assert ask("/enter/unknown", cookie=trainer)[0] == 400


@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_a_new_trainers_link_is_not_used_up_by_a_messenger_that_looks_at_it(
    ask: Ask, people: Studio, method: str
) -> None:
    link = people.trainer.invite_trainer("Bero")
    for _ in range(2):
        status, headers, body = ask(f"/enter/{link}", method=method)
        assert status == 200 and "set-cookie" not in headers
    assert method == "HEAD" or ("Welcome, Bero" in body and f'action="/enter/{link}"' in body)
    assert ask(f"/enter/{link}", form="", origin="http://evil.example")[0] == 403
    status, headers, _ = ask(f"/enter/{link}", form="", origin="http://localhost:8501")
    came = signin.who(people.database, _session(headers))
    assert status == 303 and came is not None and (came.name, came.is_trainer) == ("Bero", True)
    assert [ask(f"/enter/{link}")[0], ask(f"/enter/{link}", form="")[0]] == [400, 400], "it works once"


def test_who_guesses_locks_strangers_out_and_no_browser_that_is_known(ask: Ask, people: Studio) -> None:
    signin.set_account(people.database, people.trainer.actor, "runa", GOOD)
    right = f"login=runa&password={GOOD.replace(' ', '+')}"
    known = _cookies(ask("/enter", form=right)[1])[studio.DEVICE]
    for _ in range(20):
        assert ask("/enter", form="login=runa&password=a+wrong+guess")[0] == 400
    assert "Too many" in ask("/enter", form=right)[2]
    assert "Too many" in ask("/enter", form=right, device="made up")[2]
    status, headers, _ = ask("/enter", form=right, device=known)
    assert status == 303 and _cookies(headers)[studio.DEVICE] == known
    assert ask("/", cookie=known)[0] == 303, "being known lets nobody in"


def test_a_form_longer_than_any_of_ours_is_refused_before_it_is_read(ask: Ask) -> None:
    assert ask("/enter", form="login=x", content_length="60000000")[0] == 413
    assert ask("/leave", form="", content_length="60000000")[0] == 413
    assert ask("/enter", form="login=" + "x" * 60_000)[0] == 413, "whatever it says of its length"


def _upload(ask: Ask, secret: str, page: str, length: str = "400000000") -> int:
    path = f"/_stcore/upload_file/{page}/file"
    return ask(path, cookie=secret, method="PUT", content_length=length)[0]


def test_what_is_uploaded_to_one_page_and_in_one_day_is_bounded(
    ask: Ask, people: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    with people.database.write() as rows:
        ilse, odo = (signin.make_pass(rows, "session", p.actor.id, 1) for p in (people.ilse, people.odo))
    taken = 404  # behind the doors of this test nothing takes files
    assert [_upload(ask, ilse, "a") for _ in range(4)] == [taken, taken, taken, 413]
    assert _upload(ask, odo, "a") == taken, "another one's page is another one's"
    assert [_upload(ask, ilse, page) for page in "bbbcccddd"] == [taken] * 7 + [413, 413], "4000 MB in all"
    monkeypatch.setattr(guard, "datetime", Tomorrow)
    assert _upload(ask, ilse, "d") == taken
    assert {_upload(ask, ilse, "e", odd) for odd in ("", "many", "-5")} == {411}


class Tomorrow(datetime):
    """The clock of the day after."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> Tomorrow:  # type: ignore[override]
        return super().now(tz) + timedelta(days=1)


def test_what_was_typed_stays_when_the_code_or_the_password_is_wrong(ask: Ask, people: Studio) -> None:
    wrong = ask("/enter", form="code=ABCD-EFGH-JKLM&name=Runa+%3Cb%3E&login=runa&password=" + GOOD)
    assert wrong[0] == 400 and GOOD not in wrong[2] and 'value="runa"' in wrong[2]
    assert ask("/enter", form="login=runa&password=wrong")[2].count('value="runa"') == 1
