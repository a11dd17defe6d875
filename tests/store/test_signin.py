"""Who is let in, and who is not."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.store import signin
from app.store.models import Pass, Person, Throttle, now
from app.store.throttle import FREE_TRIES
from shared.errors import UsageError
from tests.store.conftest import Studio

GOOD = "a long enough sentence"


def _with_account(studio: Studio) -> None:
    signin.set_account(studio.database, studio.trainer.actor, "Runa", GOOD)


@pytest.mark.parametrize(
    "between", [" ", "", " - ", "\u2013"], ids=["spaces", "nothing", "both", "a long dash"]
)
def test_the_first_code_may_be_typed_with_anything_between(database: signin.Database, between: str) -> None:
    code = signin.offer_first_code(database)
    assert code is not None
    typed = code.replace("-", between)
    assert signin.become_first_trainer(database, typed, "Runa", "", "").is_trainer


def test_the_first_code_works_once(database: signin.Database) -> None:
    code = signin.offer_first_code(database)
    assert code is not None
    with pytest.raises(signin.NotLetIn):
        signin.become_first_trainer(database, "AAAA-BBBB-CCCC", "Runa", "", "")
    actor = signin.become_first_trainer(database, f" {code.lower()} ", "Runa", "", "")
    assert actor.is_trainer
    with pytest.raises(signin.NotLetIn):
        signin.become_first_trainer(database, code, "Mallory", "", "")
    assert signin.offer_first_code(database) is None


def test_a_new_first_code_ends_the_one_before(database: signin.Database) -> None:
    old, new = signin.offer_first_code(database), signin.offer_first_code(database)
    assert old is not None and new is not None
    with pytest.raises(signin.NotLetIn):
        signin.become_first_trainer(database, old, "Runa", "", "")
    assert signin.become_first_trainer(database, new, "Runa", "", "").is_trainer


def test_login_and_password_give_a_session_until_signed_out(studio: Studio) -> None:
    _with_account(studio)
    secret = signin.sign_in(studio.database, " RUNA ", GOOD)
    assert signin.who(studio.database, secret) == studio.trainer.actor
    signin.sign_out(studio.database, secret)
    assert signin.who(studio.database, secret) is None


@pytest.mark.parametrize(("login", "password"), [("runa", "wrong words here"), ("nobody", GOOD), ("", "")])
def test_wrong_ones_are_told_alike(studio: Studio, login: str, password: str) -> None:
    _with_account(studio)
    with pytest.raises(UsageError) as told:
        signin.sign_in(studio.database, login, password)
    assert str(told.value) in (signin.WRONG, "The login is empty; write something first.")


def test_letters_that_grow_as_small_ones_lock_nobody_out(studio: Studio) -> None:
    trainer = studio.trainer
    with pytest.raises(UsageError, match="too long: 160"):
        signin.set_account(studio.database, trainer.actor, "ß" * 80, GOOD)
    with pytest.raises(UsageError, match="too long"):
        trainer.set_email("ß" * 240 + "@studio.example")
    signin.set_account(studio.database, trainer.actor, "ß" * 40, GOOD)
    assert signin.sign_in(studio.database, "SS" * 40, GOOD)
    with pytest.raises(signin.NotLetIn):
        signin.sign_in(studio.database, "ß" * 90, GOOD)


def test_attempts_are_limited_even_with_the_right_password(studio: Studio) -> None:
    _with_account(studio)
    for _ in range(FREE_TRIES):
        with pytest.raises(signin.NotLetIn, match="wrong"):
            signin.sign_in(studio.database, "runa", "wrong words here")
    with pytest.raises(signin.NotLetIn, match="Too many"):
        signin.sign_in(studio.database, "runa", GOOD)
    with studio.database.write() as session:
        session.get_one(Throttle, "login:runa").locked_until = now() - timedelta(seconds=1)
    assert signin.sign_in(studio.database, "runa", GOOD)
    with studio.database.read() as session:
        assert session.get(Throttle, "login:runa") is None


def test_a_new_password_ends_every_session(studio: Studio) -> None:
    _with_account(studio)
    secret = signin.sign_in(studio.database, "runa", GOOD)
    signin.set_account(studio.database, studio.trainer.actor, "runa", GOOD + " again")
    assert signin.who(studio.database, secret) is None


@pytest.mark.parametrize("password", ["short", "x" * 201])
def test_a_password_that_will_not_do_is_refused(studio: Studio, password: str) -> None:
    with pytest.raises(UsageError, match="10 to 200"):
        signin.set_account(studio.database, studio.trainer.actor, "runa", password)


def test_a_link_lets_its_member_in_until_it_is_revoked(studio: Studio) -> None:
    ilse = studio.ilse.actor
    link = studio.trainer.make_link(ilse.id)
    secret = signin.open_link(studio.database, link)
    assert signin.who(studio.database, secret) == ilse
    studio.trainer.revoke_links(ilse.id)
    assert signin.who(studio.database, secret) is None
    with pytest.raises(signin.NotLetIn):
        signin.open_link(studio.database, link)


def test_a_link_and_what_it_opened_end_with_their_date(studio: Studio) -> None:
    link = studio.trainer.make_link(studio.ilse.actor.id, days=1)
    secret = signin.open_link(studio.database, link)
    with studio.database.read() as session:
        assert session.get_one(Pass, signin.hashed(secret)).expires_at <= now() + timedelta(days=1)
    with studio.database.write() as session:
        for row in session.query(Pass):
            row.expires_at = now() - timedelta(seconds=1)
    assert signin.who(studio.database, secret) is None
    with pytest.raises(signin.NotLetIn):
        signin.open_link(studio.database, link)


def test_a_session_is_no_link_and_a_link_no_session(studio: Studio) -> None:
    link = studio.trainer.make_link(studio.ilse.actor.id)
    assert signin.who(studio.database, link) is None
    with pytest.raises(signin.NotLetIn):
        signin.open_link(studio.database, signin.open_link(studio.database, link))


def test_no_secret_is_kept_in_clear(studio: Studio) -> None:
    _with_account(studio)
    link = studio.trainer.make_link(studio.ilse.actor.id)
    with studio.database.read() as session:
        kept = [p.hash for p in session.query(Pass)] + [p.password or "" for p in session.query(Person)]
    assert link not in kept and GOOD not in kept and any("argon2id" in k for k in kept)


VOUCHED = {"email": "Ilse@Studio.example", "email_verified": True}


def _give_email(studio: Studio, email: str = "ilse@studio.example") -> None:
    studio.trainer.save_member(studio.ilse.actor.id, "Ilse", email=email)


def test_a_verified_email_lets_its_account_in_once(studio: Studio) -> None:
    _give_email(studio)
    secret = signin.vouched_for(studio.database, VOUCHED)
    session = signin.open_link(studio.database, secret)
    assert signin.who(studio.database, session) == studio.ilse.actor
    with pytest.raises(signin.NotLetIn):
        signin.open_link(studio.database, secret)
    with studio.database.read() as found:
        assert found.get_one(Pass, signin.hashed(secret)).expires_at <= now() + timedelta(minutes=2)
    assert studio.trainer.links(studio.ilse.actor.id) == []


@pytest.mark.parametrize(
    "claims",
    [
        {},
        {"email": "ilse@studio.example"},
        {"email": "ilse@studio.example", "email_verified": False},
        {"email": "ilse@studio.example", "email_verified": "false"},
        {"email": "ilse@studio.example", "email_verified": 1.5},
        {"email": None, "email_verified": True},
        {"email": "", "email_verified": True},
        {"email": "mallory@studio.example", "email_verified": True},
        {"email": ["ilse@studio.example"], "email_verified": True},
    ],
)
def test_an_email_that_is_not_verified_or_not_known_lets_nobody_in(
    studio: Studio, claims: dict[str, object]
) -> None:
    _give_email(studio)
    with pytest.raises(UsageError):
        signin.vouched_for(studio.database, claims)


def test_an_erased_or_closed_account_is_not_let_in(studio: Studio) -> None:
    _give_email(studio)
    with studio.database.write() as session:
        session.get_one(Person, studio.ilse.actor.id).active = False
    with pytest.raises(signin.NotLetIn):
        signin.vouched_for(studio.database, VOUCHED)


def test_an_email_belongs_to_one_account(studio: Studio) -> None:
    _give_email(studio)
    _give_email(studio)
    with pytest.raises(UsageError, match="Someone else"):
        studio.trainer.save_member(studio.odo.actor.id, "Odo", email=" ILSE@studio.example")
    with pytest.raises(UsageError, match="no e-mail"):
        studio.trainer.set_email("runa")
    _give_email(studio, "")
    studio.trainer.set_email("ilse@studio.example")
    assert studio.trainer.me().email == "ilse@studio.example"
