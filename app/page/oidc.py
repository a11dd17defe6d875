"""The studio's own sign-in provider (OpenID Connect), through Streamlit's login: whether there is one.

Its credentials stand under ``[auth]`` in ``secrets.toml`` in the data folder, in Streamlit's own form.
Streamlit asks the provider; ``app.store.signin`` decides whose account the verified e-mail is.
"""

from __future__ import annotations

import sys
import tomllib
from functools import lru_cache
from pathlib import Path

from app.reading.failures import missing_extra
from shared.errors import UsageError

#: Where a browser is sent to the provider, and comes back from it.
PAGE, CALLBACK, LOGIN, LOGOUT = "/provider", "/oauth2callback", "/auth/login", "/auth/logout"
#: What must be reached before there is a session, where a provider is named.
OPEN = (PAGE, PAGE + "/", CALLBACK, LOGIN, LOGOUT, "/_stcore/stream", "/_stcore/host-config")
#: Streamlit's own signed cookie: the provider has vouched for someone.
VOUCHED = "_streamlit_user"
_NEEDED = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")


def secrets_file(data: Path) -> Path:
    """Where the credentials stand."""
    return data / "secrets.toml"


@lru_cache(maxsize=8)
def provider_named(data: Path) -> bool:
    """Whether the studio names a provider; read once, so a change needs a new start.

    Raises
    ------
    UsageError : the file cannot be used, or may be read by others.
    """
    file = secrets_file(data)
    try:
        if not file.exists():
            return False
        if sys.platform != "win32" and file.stat().st_mode & 0o077:
            raise UsageError(f"{file.name} may be read by others; run chmod 600 on it.")
        auth = tomllib.loads(file.read_text(encoding="utf-8")).get("auth")
    except (OSError, ValueError) as error:
        raise UsageError(f"{file.name} in the data folder cannot be read ({error}); mend it.") from error
    if auth is None:
        return False
    missing = [key for key in _NEEDED if not (isinstance(auth, dict) and auth.get(key))]
    if missing:
        raise UsageError(
            f"{file.name}: [auth] misses {', '.join(missing)}; see docs/the-page.md, the studio's accounts."
        )
    try:
        import authlib  # noqa: F401
    except ModuleNotFoundError as error:
        raise missing_extra("authlib") from error
    return True
