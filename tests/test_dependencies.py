"""What pyproject.toml declares is what the code imports, within bounds that the pinned packages fit."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Callable
from functools import cache
from importlib.metadata import packages_distributions, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

from app import cli
from app.batches.clip import fetched
from app.jobs.pools import cluster_pool
from app.page.oidc import provider_named, secrets_file
from app.page.sheet import fitted
from app.reading.failures import EXTRAS, missing_extra
from app.store.remote import RemoteFiles
from shared.errors import UsageError

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
OPTIONAL = PROJECT["project"]["optional-dependencies"]
DECLARED = {"": PROJECT["project"]["dependencies"], **OPTIONAL}
#: The extras that a folder may use, beside what comes with Plumbset itself; the longest name decides.
MAY_USE = {
    "shared": set(),
    "vision": set(),
    "app": {"app"},
    "app/reading": set(),
    "app/rules": set(),
    "app/batches": {"remote"},
    "app/jobs": {"app", "cluster"},
    "app/store": {"app", "remote"},
    "app/page": {"app", "oidc"},
}
#: Declared though no line imports it: the database library loads it by the name in the URL.
BY_NAME = {"psycopg"}
#: Majors that are tried though not pinned, see requirements/build.in: tests/test_newest.py has this one.
TRIED_BEYOND = {"av": {19}}
LOCKS = {
    "run": {""},
    "app": {"", "app", "oidc", "remote"},
    "dev": {"", "app", "oidc", "remote", "cluster", "dev"},
}


def _files() -> list[Path]:
    return sorted(p for package in ("app", "shared", "vision") for p in (ROOT / package).rglob("*.py"))


def _foreign(text: str) -> set[str]:
    """Top names of what a file imports anywhere in it, ours and the standard library left out."""
    names: set[str] = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add(node.module or "")
        elif isinstance(node, ast.Call) and "import_module" in ast.unparse(node.func):
            names |= {a.value for a in node.args if isinstance(a, ast.Constant)}
    return {n.partition(".")[0] for n in names} - {"app", "shared", "vision"} - sys.stdlib_module_names


def _named(extra: str) -> set[str]:
    return {canonicalize_name(Requirement(line).name) for line in DECLARED[extra]}


@cache
def _brought_by() -> dict[str, set[str]]:
    """The distributions that bring each module."""
    return {
        module: {canonicalize_name(name) for name in names}
        for module, names in packages_distributions().items()
    }


def _undeclared(path: str, modules: set[str]) -> set[str]:
    """Modules of a file that nothing it may use declares."""
    folder = max((f for f in MAY_USE if path.startswith(f + "/")), key=len)
    wrong = set()
    for module in modules:
        extra = EXTRAS.get(module, "")
        may = extra == "" or extra in MAY_USE[folder]
        if not may or not _brought_by().get(module, set()) & _named(extra):
            wrong.add(module)
    return wrong


def test_what_files_import_is_declared_for_them() -> None:
    names = {str(path.relative_to(ROOT)): _foreign(path.read_text(encoding="utf-8")) for path in _files()}
    wrong = {name: found for name, imported in names.items() if (found := _undeclared(name, imported))}
    assert names and not wrong, (
        "declare it in pyproject.toml, in an extra also in app/reading/failures.py: EXTRAS"
    )


def test_what_is_not_declared_is_seen() -> None:
    assert _foreign("def f():\n    import requests.auth\n    import os\n") == {"requests"}
    assert _foreign("import_module('distributed')") == {"distributed"}
    assert _undeclared("vision/pair.py", {"matplotlib", "numpy"}) == {"matplotlib"}
    assert _undeclared("app/rules/words.py", {"sqlalchemy", "pydantic"}) == {"sqlalchemy"}
    assert _undeclared("app/store/models.py", {"sqlalchemy", "streamlit", "authlib"}) == {"authlib"}


def test_what_is_declared_is_imported() -> None:
    used = {m for path in _files() for m in _foreign(path.read_text(encoding="utf-8"))}
    brought = {name for module in used for name in _brought_by().get(module, ())}
    for extra in ("", *sorted(set(EXTRAS.values()))):
        assert _named(extra) - BY_NAME <= brought
    assert set(EXTRAS) <= used


@pytest.mark.parametrize(
    "line",
    sorted({*(line for lines in DECLARED.values() for line in lines), *PROJECT["build-system"]["requires"]}),
)
def test_every_dependency_ends_at_its_next_major(line: str) -> None:
    limits = {s.operator: Version(s.version) for s in Requirement(line).specifier}
    if "==" in limits:
        return
    assert set(limits) == {">=", "<"}
    name = canonicalize_name(Requirement(line).name)
    tried = {v.major for v in _pins("dev").get(name, ())} | TRIED_BEYOND.get(name, set())
    assert limits["<"] <= Version(str(max(tried, default=limits[">="].major) + 1))


def _pins(lock: str) -> dict[str, set[Version]]:
    """Every pinned distribution with its versions, one or more by Python."""
    pins: dict[str, set[Version]] = {}
    for line in (ROOT / "requirements" / f"{lock}.txt").read_text(encoding="utf-8").splitlines():
        pin = re.match(r"([\w.-]+)==([^ ;]+)", line)
        if pin:
            pins.setdefault(canonicalize_name(pin[1]), set()).add(Version(pin[2]))
    return pins


@pytest.mark.parametrize("lock", sorted(LOCKS))
def test_the_pinned_packages_fit_the_bounds(lock: str) -> None:
    pins = _pins(lock)
    for line in (line for extra in LOCKS[lock] for line in DECLARED[extra]):
        wanted = Requirement(line)
        versions = pins.get(canonicalize_name(wanted.name), set())
        assert versions, f"{wanted.name}: run make lock"
        assert all(v in wanted.specifier for v in versions), f"{wanted.name}: run make lock"
    build = Requirement(PROJECT["build-system"]["requires"][0])
    assert all(v in build.specifier for v in pins[build.name])


@pytest.mark.parametrize("lock", sorted(LOCKS))
def test_the_pins_name_no_place_to_fetch_from(lock: str) -> None:
    text = (ROOT / "requirements" / f"{lock}.txt").read_text(encoding="utf-8")
    assert "://" not in text and "index-url" not in text


def test_there_is_one_opencv_and_it_is_the_landmark_librarys_own() -> None:
    brought = {canonicalize_name(Requirement(line).name) for line in requires("mediapipe") or ()}
    one = {name for name in brought if name.startswith("opencv")}
    assert len(one) == 1
    assert {name for name in _named("") if name.startswith("opencv")} == one
    for lock in LOCKS:
        assert {name for name in _pins(lock) if name.startswith("opencv")} == one
    assert _brought_by()["cv2"] == one


def test_the_video_librarys_two_series_are_both_allowed() -> None:
    allowed = next(r.specifier for r in map(Requirement, DECLARED[""]) if r.name == "av")
    assert list(allowed.filter(["18.0.0", "18.1.0", "19.0.2", "20.0.0"])) == ["18.1.0", "19.0.2"]


def test_every_file_of_ours_is_installed() -> None:
    given = PROJECT["tool"]["setuptools"]["package-data"]
    for package in ("app", "shared", "vision"):
        data = {file for glob in given[package] for file in (ROOT / package).glob(glob)}
        for file in (ROOT / package).rglob("*"):
            if file.suffix == ".py":
                assert (file.parent / "__init__.py").exists(), f"{file.parent} is no package"
            elif file.is_file() and "__pycache__" not in file.parts:
                assert file in data, f"{file}: name it under package-data"


@pytest.mark.parametrize(("module", "extra"), sorted(EXTRAS.items()))
def test_a_missing_extra_is_named_in_one_line(
    module: str, extra: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, module, None)
    monkeypatch.delenv(cli.DEBUG, raising=False)
    assert cli.run(lambda: __import__(module)) == 2
    said = capsys.readouterr().err.splitlines()
    assert said == [
        f"plumbset: The package {module} is missing; in Plumbset's folder install the extra {extra}: "
        f'pip install ".[{extra}]"'
    ]


def _named_provider(folder: Path) -> None:
    keys = ("redirect_uri", "cookie_secret", "client_id", "client_secret", "server_metadata_url")
    file = secrets_file(folder)
    file.write_text("[auth]\n" + "".join(f'{key} = "x"\n' for key in keys), encoding="utf-8")
    file.chmod(0o600)
    provider_named(folder)


@pytest.mark.parametrize(
    ("module", "use"),
    [
        ("fsspec", lambda folder: fetched("memory://x/a.mp4", folder)),
        ("fsspec", lambda folder: RemoteFiles("memory://x", folder)),
        ("distributed", lambda folder: cluster_pool("tcp://127.0.0.1:9").__enter__()),
        ("authlib", _named_provider),
        ("weasyprint", lambda folder: fitted({})),
    ],
)
def test_what_needs_an_extra_names_it_where_it_is_used(
    module: str, use: Callable[[Path], object], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, module, None)
    with pytest.raises(UsageError) as caught:
        use(tmp_path)
    assert str(caught.value) == str(missing_extra(module))


def test_another_missing_module_is_our_own_fault(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "colorsys", None)
    monkeypatch.delenv(cli.DEBUG, raising=False)
    assert cli.run(lambda: __import__("colorsys")) == 1
    assert "our side" in capsys.readouterr().err
