"""An OpenID Connect provider of the tests' own, on this machine: it vouches for whom it is told to.

OpenID Connect Core 1.0 and Discovery 1.0: the authorization code flow with an RS256 id token.
"""

from __future__ import annotations

import json
import secrets
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit

CLIENT = "plumbset"


class Provider:
    """Serves while it is open; asks nobody for a password."""

    def __init__(self) -> None:
        from joserfc.jwk import RSAKey

        self._key = RSAKey.generate_key(2048, {"kid": "tests"}, private=True)
        self._claims: dict[str, Any] = {}
        self._nonces: dict[str, str] = {}
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.address = f"http://127.0.0.1:{self._server.server_port}"
        self._thread = threading.Thread(target=self._server.serve_forever, daemon=True)

    def __enter__(self) -> Provider:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()

    def secrets(self, page: str) -> str:
        """What the studio writes in its secrets."""
        return (
            f'[auth]\nredirect_uri = "{page}/oauth2callback"\ncookie_secret = "{secrets.token_hex(16)}"\n'
            f'client_id = "{CLIENT}"\nclient_secret = "of the tests"\n'
            f'server_metadata_url = "{self.address}/.well-known/openid-configuration"\n'
        )

    def vouches(self, email: str, verified: bool) -> None:
        """For whom it vouches from now on."""
        self._claims = {"sub": email, "email": email, "email_verified": verified}

    def about(self) -> dict[str, Any]:
        return {
            "issuer": self.address,
            "authorization_endpoint": f"{self.address}/authorize",
            "token_endpoint": f"{self.address}/token",
            "jwks_uri": f"{self.address}/keys",
            "response_types_supported": ["code"],
            "subject_types_supported": ["public"],
            "id_token_signing_alg_values_supported": ["RS256"],
            "code_challenge_methods_supported": ["S256"],
        }

    def authorize(self, query: dict[str, list[str]]) -> str:
        """Back to the page, with a code."""
        code = secrets.token_hex(8)
        self._nonces[code] = query.get("nonce", [""])[0]
        return f"{query['redirect_uri'][0]}?{urlencode({'code': code, 'state': query['state'][0]})}"

    def token(self, code: str) -> dict[str, Any]:
        from joserfc import jwt

        at = int(time.time())
        claims = {
            **self._claims, "iss": self.address, "aud": CLIENT, "iat": at, "exp": at + 60,
            "nonce": self._nonces.pop(code),
        }  # fmt: skip
        made = jwt.encode({"alg": "RS256", "kid": "tests"}, claims, self._key)
        return {"access_token": "x", "token_type": "Bearer", "expires_in": 60, "id_token": made}

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        provider = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                asked = urlsplit(self.path)
                if asked.path == "/authorize":
                    self.send_response(302)
                    self.send_header("Location", provider.authorize(parse_qs(asked.query)))
                    self.end_headers()
                elif asked.path == "/keys":
                    self._answer({"keys": [provider._key.as_dict(private=False)]})
                else:
                    self._answer(provider.about())

            def do_POST(self) -> None:
                body = self.rfile.read(int(self.headers["Content-Length"])).decode()
                self._answer(provider.token(parse_qs(body)["code"][0]))

            def _answer(self, content: dict[str, Any]) -> None:
                data = json.dumps(content).encode()
                self.send_response(200)
                self.send_header("Content-Type", "application/json")
                self.send_header("Content-Length", str(len(data)))
                self.end_headers()
                self.wfile.write(data)

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        return Handler
