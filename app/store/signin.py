"""Letting people in: passwords, the first code, personal links and sessions, all kept as hashes."""

from __future__ import annotations

import hashlib
import math
import secrets
from collections.abc import Mapping
from datetime import timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from app.store.database import Database
from app.store.models import Pass, Person, Throttle, now
from app.store.rules import Actor, clean, sound_email
from shared.errors import UsageError

SESSION_DAYS = 14
FIRST_CODE_DAYS = 2
#: Two minutes: the way from the provider's answer to the session.
ONCE_DAYS = 2 / 1440
FREE_TRIES = 5
LONGEST_LOCK_S = 3600
#: Without letters and digits that are read for one another.
_ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
_HASHER = PasswordHasher()
_NOBODY = _HASHER.hash(secrets.token_hex(8))
WRONG = "Name or password is wrong."
SLOW_DOWN = "Too many wrong attempts; wait {wait} and try again."


class NotLetIn(UsageError):
    """The attempt to come in failed; the sentence says why, without saying who exists."""


def make_pass(
    session: Session, kind: str, person_id: int | None, days: float, made_from: str | None = None
) -> str:
    """A new secret of one kind; only its hash is kept."""
    secret = first_code() if kind == "first" else secrets.token_urlsafe(32)
    row = Pass(
        hash=hashed(secret), kind=kind, person_id=person_id, made_from=made_from,
        expires_at=now() + timedelta(days=days),
    )  # fmt: skip
    session.add(row)
    return secret


def first_code() -> str:
    """Twelve letters and digits in threes."""
    letters = "".join(secrets.choice(_ALPHABET) for _ in range(12))
    return "-".join(letters[i : i + 4] for i in range(0, 12, 4))


def hashed(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def revoke(session: Session, person_id: int, kinds: tuple[str, ...] = ("link", "session")) -> None:
    """End what lets a person in."""
    session.execute(
        update(Pass)
        .where(Pass.person_id == person_id, Pass.kind.in_(kinds), Pass.revoked_at.is_(None))
        .values(revoked_at=now())
    )


def trainers(database: Database) -> list[Person]:
    """All trainers."""
    with database.read() as session:
        return list(session.scalars(select(Person).where(Person.role == "trainer", Person.active)))


def offer_first_code(database: Database) -> str | None:
    """A new one-time code for the first trainer, ending older ones; None when there is a trainer."""
    with database.write() as session:
        if session.scalar(select(func.count()).where(Person.role == "trainer")):
            return None
        session.execute(update(Pass).where(Pass.kind == "first").values(revoked_at=now()))
        return make_pass(session, "first", person_id=None, days=FIRST_CODE_DAYS)


def become_first_trainer(database: Database, code: str, name: str, login: str, password: str) -> Actor:
    """Use the one-time code up; a password is needed only to sign in from elsewhere.

    Raises
    ------
    NotLetIn : the code is wrong or used up. UsageError : name, login or password will not do.
    """
    name = clean(name, "Your name", 80, needed=True)
    _count_attempt(database, "first")
    with database.write() as session:
        row = session.get(Pass, hashed(code.strip().upper()))
        if row is None or row.kind != "first" or row.revoked_at or row.expires_at <= now():
            raise NotLetIn("This code is wrong or used up; start plumbset app again for a new one.")
        person = Person(name=name, role="trainer")
        if login or password:
            _set_account(session, person, login=login, password=password)
        session.add(person)
        row.revoked_at = now()
        session.flush()
        _forgive(session, "first")
        return Actor(person.id, person.name, person.role)


def set_account(database: Database, actor: Actor, login: str, password: str) -> None:
    """Give oneself a login and a new password; every session of before ends."""
    with database.write() as session:
        person = session.get(Person, actor.id)
        if person is None:
            raise NotLetIn(WRONG)
        _set_account(session, person, login=login, password=password)
        revoke(session, person.id, ("session",))


def _set_account(session: Session, person: Person, login: str, password: str) -> None:
    login = clean(login, "The login", 80, needed=True).casefold()
    if len(password) < 10 or len(password) > 200:
        raise UsageError("The password must have from 10 to 200 characters; a short sentence is a good one.")
    taken = session.scalar(select(Person).where(Person.login == login))
    if taken is not None and taken.id != person.id:
        raise UsageError("This login is taken; choose another one.")
    person.login, person.password = login, _HASHER.hash(password)


def sign_in(database: Database, login: str, password: str) -> str:
    """A session's secret for a login and password.

    Raises
    ------
    NotLetIn : wrong, or too many wrong attempts before.
    """
    key = f"login:{clean(login, 'The login', 10_000).casefold()[:80]}"
    _count_attempt(database, key)
    with database.read() as session:
        person = session.scalar(
            select(Person).where(Person.login == key.removeprefix("login:"), Person.active)
        )
    kept = person.password if person is not None and person.password else _NOBODY
    try:
        _HASHER.verify(kept, password[:1000])
    except (VerificationError, InvalidHashError):
        raise NotLetIn(WRONG) from None
    if person is None:
        raise NotLetIn(WRONG)
    with database.write() as session:
        _forgive(session, key)
        return make_pass(session, "session", person_id=person.id, days=SESSION_DAYS)


def vouched_for(database: Database, claims: Mapping[str, object]) -> str:
    """A way in, once and for two minutes, for whom the studio's provider vouches.

    claims: of the provider (OpenID Connect Core 1.0, section 5.1); the e-mail must be verified, and
    belong to an account that a trainer has made.

    Raises
    ------
    NotLetIn : nobody here has this e-mail, or the provider has not verified it.
    """
    claimed = claims.get("email")
    email = sound_email(claimed) if isinstance(claimed, str) else None
    if email is None or claims.get("email_verified") not in (True, "true"):
        raise NotLetIn("Your provider has not verified your e-mail address; ask your trainer for a link.")
    with database.write() as session:
        person = session.scalar(select(Person).where(Person.email == email, Person.active))
        if person is None:
            raise NotLetIn("No account here has this e-mail address; ask your trainer to enter it.")
        return make_pass(session, "once", person_id=person.id, days=ONCE_DAYS)


def open_link(database: Database, secret: str) -> str:
    """A session's secret for a personal link, which it ends with, or for a way in that works once.

    Raises
    ------
    NotLetIn : the link is unknown, over or revoked.
    """
    with database.write() as session:
        row = session.get(Pass, hashed(secret))
        if (
            row is None
            or row.kind not in ("link", "once")
            or row.revoked_at is not None
            or row.expires_at <= now()
        ):
            raise NotLetIn("This link does not work any more; ask your trainer for a new one.")
        if row.kind == "once":
            row.revoked_at = now()
            return make_pass(session, "session", person_id=row.person_id, days=SESSION_DAYS)
        days = min(SESSION_DAYS, (row.expires_at - now()) / timedelta(days=1))
        return make_pass(session, "session", person_id=row.person_id, days=days, made_from=row.hash)


def who(database: Database, secret: str | None) -> Actor | None:
    """The person a session belongs to, None when it is over or was never there."""
    if not secret:
        return None
    with database.read() as session:
        row = session.execute(
            select(Person)
            .join(Pass, Pass.person_id == Person.id)
            .where(Pass.hash == hashed(secret), Pass.kind == "session", Person.active)
            .where(Pass.revoked_at.is_(None), Pass.expires_at > now())
        ).scalar_one_or_none()
    return None if row is None else Actor(row.id, row.name, row.role)


def sign_out(database: Database, secret: str) -> None:
    """End one session."""
    with database.write() as session:
        session.execute(
            update(Pass).where(Pass.hash == hashed(secret), Pass.kind == "session").values(revoked_at=now())
        )


def _count_attempt(database: Database, key: str) -> None:
    """Count an attempt before it is looked at, so that attempts made at once are all counted."""
    with database.write() as session:
        row = session.get(Throttle, key, with_for_update=True) or Throttle(key=key, wrong=0)
        session.add(row)
        wait = 0 if row.locked_until is None else math.ceil((row.locked_until - now()).total_seconds())
        if 0 < wait <= LONGEST_LOCK_S:  # longer: the clock was set back since
            raise NotLetIn(SLOW_DOWN.format(wait=f"{wait} s" if wait < 120 else f"{wait // 60} minutes"))
        row.wrong += 1
        if row.wrong >= FREE_TRIES:
            lock = min(LONGEST_LOCK_S, 30 * 2 ** (row.wrong - FREE_TRIES))
            row.locked_until = now() + timedelta(seconds=lock)


def _forgive(session: Session, key: str) -> None:
    row = session.get(Throttle, key)
    if row is not None:
        row.wrong, row.locked_until = 0, None
