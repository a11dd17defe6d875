"""Letting people in: passwords, the first code, personal links and sessions, all kept as hashes."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping
from datetime import timedelta

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import delete, func, or_, select, update
from sqlalchemy.orm import Session

from app.store import throttle
from app.store.database import Database
from app.store.models import Pass, Person, now
from app.store.rules import Actor, clean, sound_email
from app.store.throttle import NotLetIn
from shared.errors import UsageError

SESSION_DAYS = 14
FIRST_CODE_DAYS = 2
#: Two minutes: the way from the provider's answer to the session.
ONCE_DAYS = 2 / 1440
#: A browser in which someone signed in is known for so long: strangers' guesses do not keep it out.
DEVICE_DAYS = 366
#: So long a start's own link may be used; the next start ends it.
START_DAYS = 366
#: Without letters and digits that are read for one another.
_ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
_HASHER = PasswordHasher()
_NOBODY = _HASHER.hash(secrets.token_hex(8))
WRONG = "Name or password is wrong."


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


def _as_shown(code: str) -> str:
    """A typed code in groups of four, as the window shows it: only its letters and digits count."""
    typed = "".join(one for one in code.upper() if one.isalnum())
    return "-".join(typed[i : i + 4] for i in range(0, len(typed), 4))


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


def owner(session: Session) -> Person | None:
    """The trainer of longest standing, whose the studio is; there is always one once there is a trainer."""
    theirs = select(Person).where(Person.role == "trainer", Person.active)
    return session.scalar(theirs.order_by(Person.id).limit(1))


def offer_first_code(database: Database) -> str | None:
    """A new one-time code for the first trainer, ending older ones; None when there is a trainer."""
    with database.write() as session:
        if session.scalar(select(func.count()).where(Person.role == "trainer")):
            return None
        session.execute(update(Pass).where(Pass.kind == "first").values(revoked_at=now()))
        return make_pass(session, "first", person_id=None, days=FIRST_CODE_DAYS)


def become_first_trainer(database: Database, code: str, name: str, login: str, password: str) -> Actor:
    """Use the one-time code up; a password is needed only to sign in without the link of a start.

    Nobody is made to wait: the code has 60 random bits, and a stranger's guesses must keep nobody out.

    Raises
    ------
    NotLetIn : the code is wrong or used up. UsageError : name, login or password will not do.
    """
    name = clean(name, "Your name", 80, needed=True)
    with database.write() as session:
        row = session.get(Pass, hashed(_as_shown(code)))
        if row is None or row.kind != "first" or row.revoked_at or row.expires_at <= now():
            raise NotLetIn("That code didn't match. Check for typos; if it has been used, restart Plumbset.")
        person = Person(name=name, role="trainer")
        if login or password:
            _set_account(session, person, login=login, password=password)
        session.add(person)
        row.revoked_at = now()
        session.flush()
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
    login = clean(login.casefold(), "The login", 80, needed=True)
    if len(password) < 10 or len(password) > 200:
        raise UsageError("The password must have from 10 to 200 characters; a short sentence is a good one.")
    taken = session.scalar(select(Person).where(Person.login == login))
    if taken is not None and taken.id != person.id:
        raise UsageError("This login is taken; choose another one.")
    person.login, person.password = login, _HASHER.hash(password)


def sign_in(database: Database, login: str, password: str, device: str | None = None) -> str:
    """A session's secret for a login and password. device: the secret by which this browser is known.

    A known device is counted for itself, all others together: who guesses keeps only strangers waiting.

    Raises
    ------
    NotLetIn : wrong, or too many wrong attempts before.
    """
    name = clean(login, "The login", 10_000).casefold()
    with database.read() as session:
        person = session.scalar(select(Person).where(Person.login == name, Person.active))
        mark = _device(person.id, device) if person is not None and device else ""
        key = f"device:{mark}" if mark and _works(session, mark) else f"login:{name[:80]}"
    throttle.count_attempt(database, key)
    kept = person.password if person is not None and person.password else _NOBODY
    try:
        _HASHER.verify(kept, password[:1000])
    except (VerificationError, InvalidHashError):
        raise NotLetIn(WRONG) from None
    if person is None:
        raise NotLetIn(WRONG)
    with database.write() as session:
        throttle.forgive(session, key)
        return make_pass(session, "session", person_id=person.id, days=SESSION_DAYS)


def know_device(database: Database, session_secret: str, device: str | None) -> str | None:
    """From now on this browser is known for the trainer whose session it is; None for a member's.

    Returns the browser's secret: the one it has, or a new one.
    """
    actor = who(database, session_secret)
    if actor is None or not actor.is_trainer:
        return None
    device = device or secrets.token_urlsafe(32)
    with database.write() as session:
        key = _device(actor.id, device)
        row = session.get(Pass, key) or Pass(hash=key, kind="device", person_id=actor.id)
        row.expires_at, row.revoked_at = now() + timedelta(days=DEVICE_DAYS), None
        session.add(row)
    return device


def _device(person_id: int, device: str) -> str:
    """What is kept of a browser that is known for one person."""
    return hashed(f"{person_id}:{device}")


def _works(session: Session, key: str) -> bool:
    row = session.get(Pass, key)
    return row is not None and row.revoked_at is None and row.expires_at > now()


def new_start(database: Database, with_link: bool) -> str | None:
    """The secret of this start's link, which lets the owner in; None where there is no trainer yet.

    The links of earlier starts, and what they opened, end.
    """
    with database.write() as session:
        started = select(Pass.hash).where(Pass.kind == "start")
        over = or_(Pass.kind == "start", Pass.made_from.in_(started))
        session.execute(update(Pass).where(over, Pass.revoked_at.is_(None)).values(revoked_at=now()))
        person = owner(session)
        if not with_link or person is None:
            return None
        return make_pass(session, "start", person_id=person.id, days=START_DAYS)


def session_for(database: Database, actor: Actor) -> str:
    """A session's secret for whom the caller has let in."""
    with database.write() as session:
        return make_pass(session, "session", person_id=actor.id, days=SESSION_DAYS)


def belongs_to(database: Database, secret: str, kind: str = "link") -> Actor | None:
    """Whose personal link it is, or a new trainer's way in ("invited"); None where it is none that works."""
    with database.read() as session:
        row = session.get(Pass, hashed(secret))
        if row is None or row.kind != kind or not _works(session, row.hash):
            return None
        person = session.get(Person, row.person_id)
        return None if person is None else Actor(person.id, person.name, person.role)


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
    """A session's secret for a personal or a start's link, ending with it, or for a way in that works once.

    Raises
    ------
    NotLetIn : the link is unknown, over or revoked.
    """
    with database.write() as session:
        row = session.get(Pass, hashed(secret))
        if (
            row is None
            or row.kind not in ("link", "once", "invited", "start")
            or row.revoked_at is not None
            or row.expires_at <= now()
        ):
            raise NotLetIn("This link does not work any more; ask for a new one, or open the latest.")
        if row.kind in ("once", "invited"):
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


def forget_over(session: Session) -> None:
    """Drop what lets nobody in any more, and tries that are long over."""
    session.execute(delete(Pass).where(or_(Pass.revoked_at.is_not(None), Pass.expires_at <= now())))
    throttle.forget_over(session)
