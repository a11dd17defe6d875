"""The store of this process, and who is asking: the one place that turns a request into a person."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from app.page.oidc import VOUCHED, provider_named
from app.rules.studio_file import read_studio
from app.store import signin
from app.store.access import Access
from app.store.database import Database, open_database
from app.store.files import Files
from app.store.remote import files_of
from app.store.rules import Actor
from app.store.settings import StoreSettings, store_settings

#: Set for the page's process where everyone must sign in.
SIGN_IN = "PLUMBSET_SIGN_IN"
#: Set for the page's process of the demo studio.
DEMO = "PLUMBSET_DEMO"
#: A browser keeps one cookie of a name for all ports of a machine; the demo studio must sign nobody out.
COOKIE = "plumbset_demo" if os.environ.get(DEMO) else "plumbset_session"
LOOPBACK = ("localhost", "127.0.0.1", "[::1]", "::1")
_FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")


@dataclass(frozen=True)
class Studio:
    """One store with its files. open_here: a request from this very machine may come in directly."""

    settings: StoreSettings
    database: Database
    files: Files
    open_here: bool

    @property
    def provider(self) -> bool:
        """Whether people may sign in with the studio's own accounts."""
        return provider_named(self.settings.data)

    def access(self, actor: Actor) -> Access:
        """The store as that person may see and change it."""
        return Access(self.database, self.files, actor, lambda: read_studio(self.settings.data).load)


def this_studio() -> Studio:
    """The studio that the environment names; its database is opened once."""
    return _opened(store_settings(), not os.environ.get(SIGN_IN))


@lru_cache(maxsize=8)
def _opened(settings: StoreSettings, open_here: bool) -> Studio:
    return Studio(
        settings, open_database(settings.database_url), files=files_of(settings), open_here=open_here
    )


def acting(studio: Studio, cookies: Mapping[str, str], headers: Mapping[str, str]) -> Actor | None:
    """Who is asking. A session decides; without one the only trainer, directly at this machine."""
    secret = cookies.get(COOKIE)
    if secret:
        return signin.who(studio.database, secret)
    if VOUCHED in cookies and studio.provider:
        return None  # on the way from the provider to a session of their own
    return directly(studio, headers)


def directly(studio: Studio, headers: Mapping[str, str]) -> Actor | None:
    """The only trainer, where the page may open without sign-in for this request."""
    if not studio.open_here or not from_here(headers):
        return None
    people = signin.trainers(studio.database)
    return Actor(people[0].id, people[0].name, people[0].role) if len(people) == 1 else None


def from_here(headers: Mapping[str, str]) -> bool:
    """Whether a request names this machine and came through no other server on its way."""
    small = {key.lower(): value for key, value in headers.items()}
    if any(name in small for name in _FORWARDED):
        return False
    host = small.get("host", "")
    name = host if host.endswith("]") else host.rsplit(":", 1)[0]
    return name.lower() in LOOPBACK
