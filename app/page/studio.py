"""The store of this process, and who is asking: the one place that turns a request into a person."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from app.page.oidc import VOUCHED, provider_named
from app.rules.load_settings import Settings
from app.rules.studio_file import read_studio
from app.store import signin
from app.store.access import Access
from app.store.database import Database, open_database
from app.store.files import Files
from app.store.remote import files_of
from app.store.room import days_kept, load_of
from app.store.rules import Actor
from app.store.settings import StoreSettings, store_settings
from shared.errors import UsageError

#: How the page's process was started, one of ``Door``.
DOOR = "PLUMBSET_DOOR"
#: link: the link that the start prints lets the owner in; sign-in: only sign-in does; open: whoever
#: asks directly at this machine is the only trainer.
Door = Literal["link", "sign-in", "open"]
#: Set for the page's process of the demo studio.
DEMO = "PLUMBSET_DEMO"
#: A browser keeps one cookie of a name for all ports of a machine; the demo studio must sign nobody out.
DEMO_COOKIE = "plumbset_demo"
COOKIE = DEMO_COOKIE if os.environ.get(DEMO) else "plumbset_session"
#: By this one a browser is known in which a trainer has signed in before; it lets nobody in.
DEVICE = f"{COOKIE}_device"
LOOPBACK = ("localhost", "127.0.0.1", "[::1]", "::1")
_FORWARDED = ("forwarded", "via", "x-real-ip", "x-client-ip", "true-client-ip", "cf-connecting-ip")
BEYOND = (
    "Without sign-in the page listens on this machine alone: leave --host out, or leave --no-sign-in out."
)


@dataclass(frozen=True)
class Studio:
    """One store with its files, and how the page in front of it was started."""

    settings: StoreSettings
    database: Database
    files: Files
    door: Door = "sign-in"

    @property
    def provider(self) -> bool:
        """Whether people may sign in with the studio's own accounts."""
        return provider_named(self.settings.data)

    def access(self, actor: Actor) -> Access:
        """The store as that person may see and change it."""
        return Access(self.database, self.files, actor, self.load_settings)

    def load_settings(self) -> Settings:
        """What the studio says of loads, on the page, else in its file; DefinitionError names its fault."""
        return load_of(self.database, read_studio(self.settings.data).load)

    def days_kept(self) -> int:
        """For how many days clips are kept as they were sent."""
        return days_kept(self.database, self.settings.keep_clips_days)


def this_studio() -> Studio:
    """The studio that the environment names; its database is opened once."""
    door = os.environ.get(DOOR)
    return _opened(store_settings(), door if door in ("link", "open") else "sign-in")


@lru_cache(maxsize=8)
def _opened(settings: StoreSettings, door: Door) -> Studio:
    return Studio(settings, open_database(settings.database_url), files=files_of(settings), door=door)


def not_beyond(door: str, host: str) -> None:
    """Refuse to listen beyond this machine without sign-in."""
    if door == "open" and host not in LOOPBACK:
        raise UsageError(BEYOND)


def acting(studio: Studio, cookies: Mapping[str, str], headers: Mapping[str, str]) -> Actor | None:
    """Who is asking. A session decides; without one nobody, but where the page is open to this machine."""
    secret = cookies.get(COOKIE)
    if secret:
        return signin.who(studio.database, secret)
    if VOUCHED in cookies and studio.provider:
        return None  # on the way from the provider to a session of their own
    return directly(studio, headers)


def directly(studio: Studio, headers: Mapping[str, str]) -> Actor | None:
    """The only trainer, where the page was started without sign-in and the request comes from here."""
    if studio.door != "open" or not from_here(headers):
        return None
    people = signin.trainers(studio.database)
    return Actor(people[0].id, people[0].name, people[0].role) if len(people) == 1 else None


def from_here(headers: Mapping[str, str]) -> bool:
    """Whether a request names this machine and says of no other server on its way.

    A server that says nothing of itself cannot be told apart: this alone lets nobody in, see ``Door``.
    """
    small = {key.lower(): value for key, value in headers.items()}
    if any(name in _FORWARDED or name.startswith("x-forwarded") for name in small):
        return False
    host = small.get("host", "")
    name = host if host.endswith("]") else host.rsplit(":", 1)[0]
    return name.lower() in LOOPBACK
