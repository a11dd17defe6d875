"""The studio's own accounts: what is read of its secrets, and who gets past the doors because of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.page import oidc
from app.page.oidc import provider_named
from shared.errors import UsageError
from tests.page.screens import Ask

WHOLE = (
    '[auth]\nredirect_uri = "http://localhost:8501/oauth2callback"\ncookie_secret = "a long random text"\n'
    'client_id = "plumbset"\nclient_secret = "x"\nserver_metadata_url = "http://localhost:1/about"\n'
)


@pytest.fixture
def named(tmp_path: Path) -> Path:
    _write(tmp_path, WHOLE)
    return tmp_path


def _write(folder: Path, text: str, mode: int = 0o600) -> None:
    provider_named.cache_clear()
    file = oidc.secrets_file(folder)
    file.write_text(text, encoding="utf-8")
    file.chmod(mode)


def test_a_provider_is_named_in_the_data_folder(named: Path) -> None:
    pytest.importorskip("authlib", reason="Authlib is not installed: make setup")
    assert provider_named(named)
    assert not provider_named(named / "elsewhere")


@pytest.mark.parametrize(
    ("text", "mode", "said"),
    [
        (WHOLE, 0o644, "chmod 600"),
        (WHOLE.replace("client_id", "client"), 0o600, "misses client_id"),
        ("[auth]\n", 0o600, "misses redirect_uri"),
        ("auth = 1\n", 0o600, "misses redirect_uri"),
        ("[auth", 0o600, "cannot be read"),
    ],
)
def test_secrets_that_cannot_be_used_are_one_sentence(
    tmp_path: Path, text: str, mode: int, said: str
) -> None:
    _write(tmp_path, text, mode)
    with pytest.raises(UsageError, match=said):
        provider_named(tmp_path)


def test_other_secrets_name_no_provider(tmp_path: Path) -> None:
    _write(tmp_path, "[mail]\nserver = 'x'\n")
    assert not provider_named(tmp_path)


@pytest.mark.parametrize("path", ["/provider", "/auth/login", "/oauth2callback", "/_stcore/host-config"])
@pytest.mark.parametrize("on", [True, False])
def test_the_way_to_the_provider_is_open_only_where_one_is_named(
    ask: Ask,
    tmp_path: Path,
    path: str,
    on: bool,
) -> None:
    _write(tmp_path, WHOLE if on else "")
    status, headers, _ = ask(path)
    assert (status == 303 and headers["location"] == "/enter") is not on


@pytest.mark.parametrize(
    "path", ["/", "/review", "/media/x", "/kept/clip/1", "/_stcore/upload_file/a/b", "/providers"]
)
def test_nothing_else_opens_to_strangers(ask: Ask, named: Path, path: str) -> None:
    assert ask(path)[0] in (303, 401)


def test_who_is_vouched_for_goes_straight_on(ask: Ask, named: Path) -> None:
    _, headers, _ = ask("/", cookie="x; _streamlit_user=signed")
    assert headers["location"] == "/provider"
    assert "/provider" in ask("/enter")[2]


def test_leaving_leaves_the_provider_too(ask: Ask, named: Path) -> None:
    status, _, page = ask("/leave", cookie="x; _streamlit_user=signed", form="")
    assert status == 200 and 'content="0;url=/auth/logout"' in page, "a form may not lead to another origin"
    assert ask("/leave", form="")[1]["location"] == "/enter"
