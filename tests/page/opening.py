"""How long a member's page takes to open on a slow phone: ``python -m tests.page.opening``.

Chromium with its processor slowed four times and 10 Mbit/s with 40 ms to the studio. Prints the fastest and
the middle one of some runs in s, for the first visit and the next, what came over the line, and its largest
files. Measures, is no test.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from collections import Counter
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import sync_playwright

from app.page.studio import COOKIE
from app.store.rules import Actor
from app.store.signin import session_for
from tests.page.desk_studio import CHROMIUM, desk_studio
from tests.page.test_browser import PHONE, _settled, free_port

SLOWER, BITS, WAY_MS = 4, 10_000_000, 40
LONGEST_MS = 240_000
#: What a member sees when a page is there.
SEEN = {"/": "Hello Ilse", "/film": "Film a set"}
VISITS = {"first visit, Today": "/", "next visit, Today": "/", "next visit, Film": "/film"}
Came = Counter[str]


def main() -> int:
    """Measure, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--runs", type=int, default=3)
    runs = parser.parse_args().runs
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        studio = desk_studio(Path(folder), [])
        member = Actor(studio.trainer.save_member(None, "Ilse"), "Ilse", "member")
        secret = session_for(studio.database, member)
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        with studio.served(free_port()) as address:
            cookie = {"name": COOKIE, "value": secret, "url": address}
            seen = [_visits(browser, address, cookie) for _ in range(runs)]
        browser.close()
        studio.database.close()
    print(f"Processor slowed {SLOWER} times, {BITS / 1e6:.0f} Mbit/s, {WAY_MS} ms; ", end="")
    print(f"{runs} runs, load {os.getloadavg()[0]:.0f}")
    for name in seen[0]:
        took = [one[name][0] for one in seen]
        came = seen[0][name][1]
        print(f"  {name:<28}{min(took):6.1f} s fastest {statistics.median(took):6.1f} s middle", end="")
        print(f" {sum(came.values()) / 1e6:6.2f} MB in {len(came)} files")
        for path, size in came.most_common(5):
            print(f"      {size / 1000:7.0f} kB  {path}")
    return 0


def _visits(browser: Any, address: str, cookie: Any) -> dict[str, tuple[float, Came]]:
    """A phone that has never been here, and the same again."""
    context = browser.new_context(viewport=PHONE, is_mobile=True, has_touch=True)
    context.add_cookies([cookie])
    page = context.new_page()
    page.set_default_timeout(LONGEST_MS)
    line = context.new_cdp_session(page)
    line.send("Network.enable")
    line.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    pace = {"downloadThroughput": BITS / 8, "uploadThroughput": BITS / 8}
    line.send("Network.emulateNetworkConditions", {"offline": False, "latency": WAY_MS, **pace})
    came: Came = Counter()
    names: dict[str, str] = {}
    line.on("Network.requestWillBeSent", lambda e: names.update({e["requestId"]: e["request"]["url"]}))
    line.on("Network.loadingFinished", lambda e: came.update(_size(e, names)))
    found = {}
    for name, path in VISITS.items():
        came.clear()
        started = time.perf_counter()
        page.goto(f"{address}{path}", wait_until="commit")
        page.get_by_role("heading", name=SEEN[path]).first.wait_for()
        _settled(page)
        found[name] = time.perf_counter() - started, Counter(came)
    context.close()
    return found


def _size(event: dict[str, Any], names: dict[str, str]) -> dict[str, int]:
    """What one file cost on the line."""
    return {urlsplit(names.get(event["requestId"], "")).path: int(event["encodedDataLength"])}


if __name__ == "__main__":
    raise SystemExit(main())
