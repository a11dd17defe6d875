"""The nginx example of the docs, run by Debian's nginx in front of a small server: TLS, stream, uploads."""

from __future__ import annotations

import http.client
import shutil
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from app.page.studio import from_here

uvicorn = pytest.importorskip("uvicorn", reason="streamlit is not installed: make setup")
NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")
EXAMPLE = Path(__file__).parents[2] / "docs" / "nginx.conf"
pytestmark = pytest.mark.skipif(
    NGINX is None or shutil.which("openssl") is None, reason="no nginx here: apt-get install nginx-light"
)


@dataclass
class Front:
    """port: where TLS is spoken; seen: the headers that reached the page."""

    port: int
    folder: Path
    seen: dict[str, str]

    def ask(self, path: str, body: bytes | None = None, **headers: str) -> tuple[int, bytes]:
        trusting = ssl._create_unverified_context()
        connection = http.client.HTTPSConnection("127.0.0.1", self.port, timeout=60, context=trusting)
        try:
            connection.request("GET" if body is None else "PUT", path, body, headers)
            answer = connection.getresponse()
            return answer.status, answer.read()
        finally:
            connection.close()


def _free() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def _page(seen: dict[str, str]) -> object:
    from starlette.applications import Starlette
    from starlette.requests import Request
    from starlette.responses import PlainTextResponse
    from starlette.routing import Route, WebSocketRoute
    from starlette.websockets import WebSocket

    async def anything(request: Request) -> PlainTextResponse:
        seen.update(request.headers)
        return PlainTextResponse(str(len(await request.body())))

    async def stream(socket: WebSocket) -> None:
        await socket.accept()
        await socket.send_text("heard " + await socket.receive_text())
        await socket.close()

    return Starlette(
        routes=[
            WebSocketRoute("/_stcore/stream", stream),
            Route("/{path:path}", anything, methods=["GET", "PUT"]),
        ]
    )


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Front]:
    folder, seen = tmp_path_factory.mktemp("nginx"), {}
    behind, tls, plain = _free(), _free(), _free()
    server = uvicorn.Server(uvicorn.Config(_page(seen), port=behind, log_level="warning"))
    serving = threading.Thread(target=server.run, daemon=True)
    serving.start()
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj",
         "/CN=strength.example", "-keyout", folder / "key.pem", "-out", folder / "cert.pem"],
        check=True, capture_output=True,
    )  # fmt: skip
    text = EXAMPLE.read_text(encoding="utf-8")
    for old, new in {
        "/etc/ssl/certs/strength.example.pem": f"{folder}/cert.pem",
        "/etc/ssl/private/strength.example.key": f"{folder}/key.pem",
        "/var/log/nginx": str(folder), "listen 443 ssl": f"listen 127.0.0.1:{tls} ssl",
        "listen 80;": f"listen 127.0.0.1:{plain};", "127.0.0.1:8501": f"127.0.0.1:{behind}",
    }.items():  # fmt: skip
        assert old in text, f"the example no longer says {old}"
        text = text.replace(old, new)
    paths = "".join(f"{k}_temp_path {folder}/{k};" for k in ("client_body", "proxy"))
    conf = folder / "nginx.conf"
    conf.write_text(
        f"daemon off; pid {folder}/pid; error_log {folder}/start.log;\n"
        f"events {{}}\nhttp {{ {paths}\n{text}\n}}",
        encoding="utf-8",
    )
    running = subprocess.Popen([str(NGINX), "-c", str(conf), "-p", str(folder)], stderr=subprocess.PIPE)
    try:
        _until_open(tls, running)
        _until_open(behind, running)
        yield Front(tls, folder, seen)
    finally:
        running.terminate()
        running.communicate()
        server.should_exit = True
        serving.join()


def _until_open(port: int, running: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + 60
    while time.monotonic() < end:
        assert running.poll() is None, running.stderr.read().decode() if running.stderr else ""
        with socket.socket() as probe:
            probe.settimeout(0.2)
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
    raise AssertionError("nginx did not start")


def test_an_upload_passes_and_one_too_large_is_refused_before_it_is_sent(front: Front) -> None:
    assert front.ask("/_stcore/upload_file/a/b", bytes(5_000_000)) == (200, b"5000000")
    status, _ = front.ask("/_stcore/upload_file/a/b", b"", **{"Content-Length": "430000000"})
    assert status == 413


def test_the_page_knows_that_a_request_came_from_elsewhere(front: Front) -> None:
    assert front.ask("/waiting", Host="localhost")[0] == 200
    assert not from_here(front.seen), "nobody comes in directly through the proxy"
    assert front.seen["x-forwarded-proto"] == "https"


def test_the_pages_own_connection_goes_through(front: Front) -> None:
    from websockets.sync.client import connect

    trusting = ssl._create_unverified_context()
    with connect(f"wss://127.0.0.1:{front.port}/_stcore/stream", ssl=trusting) as stream:
        stream.send("a set")
        assert stream.recv() == "heard a set"


def test_no_log_says_who_asked_or_by_which_link_and_guessing_is_slowed_down(front: Front) -> None:
    answers = {front.ask("/enter/a-secret-of-a-link")[0] for _ in range(40)}
    assert answers == {200, 503}
    logs = [p.read_text(encoding="utf-8") for p in front.folder.glob("*.log")]
    assert any(logs) and not any(said in log for log in logs for said in ("a-secret-of-a-link", "127.0.0.1"))
