"""The bill of materials as a table of licences: ``python -m tests.licences result/sbom.json``."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

NOTE = """# Licences of what Plumbset runs with

Made by `make sbom` from the bill of materials (CycloneDX) that it writes to `result/sbom.json`; what only
developers need is in it too. Plumbset itself is Apache-2.0. What the packages carry inside:

- **PyAV**'s wheel carries FFmpeg, which calls itself LGPL-3 or later, beside **x264 and x265, which are
  GPL-2 or later**. Plumbset uses it as a package that each user installs from the registry; who hands
  out Plumbset *together* with that wheel (an image, an installer) should treat the whole as GPL-3 and
  offer its source. Apache-2.0 goes together with GPL-3.
- **OpenCV**'s wheel carries FFmpeg (LGPL-2.1 or later) and Qt (LGPL-3), as libraries of their own.
- **psycopg** is **LGPL**-3, used unchanged as a package; **certifi** is MPL-2.0, as is
  the script in **axe-playwright-python** (itself MIT), which only tests of the page read.
- The landmark model: Apache-2.0, see `vision/models/README.md`.
- **tus-js-client** 4.3.1 (MIT) lies unchanged in `app/assets`, with its licence, pinned by its hash in
  `tests/page/test_sending.py`.
- **Atkinson Hyperlegible Next** (SIL OFL 1.1), the page's typeface, lies unchanged in `app/assets`, with its
  licence: the Latin letters out of fontsource's package 5.3.0, pinned by their hash in
  `tests/page/test_typeface.py`.

| package | version | licence |
|---|---|---|"""


def rows(bom: dict[str, Any]) -> list[tuple[str, str, str]]:
    """(package, version, licence) of every component, by name."""
    return sorted(
        (part["name"], part.get("version", ""), " / ".join(_licences(part)) or "not stated")
        for part in bom["components"]
    )


def _licences(part: dict[str, Any]) -> list[str]:
    found = []
    for one in part.get("licenses", []):
        licence = one.get("license", {})
        name = one.get("expression") or licence.get("id") or licence.get("name", "")
        found.append(" ".join(name.replace("License :: OSI Approved :: ", "").split())[:60])
    return list(dict.fromkeys(found))


if __name__ == "__main__":
    made = rows(json.loads(Path(sys.argv[1]).read_text(encoding="utf-8")))
    sys.stdout.write("\n".join([NOTE, *(f"| {a} | {b} | {c} |" for a, b, c in made), ""]))
