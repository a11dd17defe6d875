"""Who may import whom: shared nothing of ours and nothing heavy, vision no page, app no landmark model.

Within vision and app each room imports only those below it; what stands beside the rooms is on top.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from shared.exercise import exercise_names

ROOT = Path(__file__).parents[1]
HEAVY = {"cv2", "mediapipe", "streamlit", "av", "scipy", "torch"}
FORBIDDEN = {
    "shared": HEAVY | {"vision", "app", "jinja2", "typer", "rich", "sqlalchemy"},
    "vision": {"app", "streamlit", "sqlalchemy", "typer", "rich"},
    "app": {"mediapipe"},
}
#: Loaded when the module is imported, whatever a function imports later.
NOT_LOADED = {
    "shared": HEAVY | {"vision", "app"},
    "vision": {"app", "streamlit", "sqlalchemy", "mediapipe"},
    "app": {"mediapipe", "cv2", "streamlit"},
}
#: The rooms of a package from the ground up.
FLOORS = {
    "vision": ("common", "seeing", "measuring", "judging", "telling"),
    "vision.measuring": ("track", "learnt", "signals", "reps", "machine"),
    "app": ("reading", "rules", "store", "jobs", "batches", "page", "views", "command"),
}


def _files(package: str) -> list[Path]:
    return sorted((ROOT / package).rglob("*.py"))


ALL_FILES = [path for package in FORBIDDEN for path in _files(package)]
#: Data, not logic: what the invented members of the demo studio did on which machine.
DEMO = {ROOT / "app/page" / name for name in ("demo_studio.py", "demo_history.py")}


def _modules(package: str) -> list[str]:
    names = [".".join(p.relative_to(ROOT).with_suffix("").parts) for p in _files(package)]
    return [name.removesuffix(".__init__") for name in names]


def _imported(path: Path) -> set[str]:
    return {name.split(".")[0] for name in _modules_of(path)}


def _modules_of(path: Path) -> set[str]:
    """Dotted names of all that a file imports, names taken from a package among them."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}: relative import"
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


def _named(path: Path, names: list[str]) -> list[int]:
    """Lines of the strings of a file that hold one of the names; docstrings may."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    with_docstring = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    docs = {
        id(node.body[0].value)  # type: ignore[attr-defined]
        for node in ast.walk(tree)
        if isinstance(node, with_docstring) and ast.get_docstring(node) is not None
    }
    strings = [n for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    return sorted(n.lineno for n in strings if id(n) not in docs and any(name in n.value for name in names))


def _upward(package: str, room: str, names: set[str]) -> set[str]:
    """What a file of a room imports from the same package that is neither its own room's nor below it."""
    floors = FLOORS[package]
    allowed = floors[: floors.index(room) + 1]
    ours = {name for name in names if name.startswith(f"{package}.")}
    return {name for name in ours if name.removeprefix(f"{package}.").split(".")[0] not in allowed}


@pytest.mark.parametrize("package", sorted(FORBIDDEN))
def test_no_file_imports_from_a_layer_above(package: str) -> None:
    found = {str(path.relative_to(ROOT)): _imported(path) & FORBIDDEN[package] for path in _files(package)}
    assert found and {path: names for path, names in found.items() if names} == {}


@pytest.mark.parametrize(
    ("package", "room"), [(package, room) for package, floors in FLOORS.items() for room in floors]
)
def test_a_room_imports_only_from_those_below_it(package: str, room: str) -> None:
    files = _files(f"{package}/{room}".replace(".", "/"))
    found = {path.name: _upward(package, room, _modules_of(path)) for path in files}
    assert found and {name: names for name, names in found.items() if names} == {}


@pytest.mark.parametrize("package", sorted(FLOORS))
def test_every_room_has_its_floor(package: str) -> None:
    rooms = {path.parent.name for path in ROOT.joinpath(*package.split(".")).glob("*/__init__.py")}
    assert rooms == set(FLOORS[package])


def test_an_upward_import_is_seen() -> None:
    assert _upward(
        "vision", "seeing", {"vision.judging.quality", "vision.common.poses", "shared.domain"}
    ) == {"vision.judging.quality"}
    assert _upward("vision", "telling", {"vision.pipeline.analyse"})
    upward = {"vision.measuring.reps.find_reps"}
    assert _upward("vision.measuring", "track", upward | {"vision.seeing.flow"}) == upward


@pytest.mark.parametrize("packages", [("shared", "vision"), ("app",)], ids=" then ".join)
def test_importing_loads_nothing_heavy(packages: tuple[str, ...]) -> None:
    """One process for what does not disturb each other: each line is what was loaded by then."""
    wanted = [
        [m for m in _modules(package) if m != "app.main" and not m.startswith("app.views")]
        for package in packages
    ]
    code = f"""import importlib, sys
for modules in {wanted!r}:
    for name in modules: importlib.import_module(name)
    print(*sys.modules)"""
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False, timeout=300
    )
    assert done.returncode == 0, done.stderr
    for package, line in zip(packages, done.stdout.splitlines(), strict=True):
        loaded = {name.split(".")[0] for name in line.split()}
        assert package in loaded and not loaded & NOT_LOADED[package]


def test_the_page_loads_nothing_that_only_judging_needs() -> None:
    code = "import sys, app.main\nprint(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert not {"scipy", "cv2", "av"} & {name.split(".")[0] for name in done.stdout.split()}


def test_the_rules_see_what_they_forbid(tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    bad.write_text("def f():\n    from mediapipe.tasks import python\n", encoding="utf-8")
    assert _imported(bad) == {"mediapipe"}


@pytest.mark.parametrize(
    "path", [p for p in ALL_FILES if p not in DEMO], ids=lambda p: str(p.relative_to(ROOT))
)
def test_no_code_names_an_exercise(path: Path) -> None:
    assert not _named(path, exercise_names())


def test_a_name_in_code_is_seen(tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    lines = (
        '"""Of leg-curl."""',
        "def f(a):",
        '    """As leg-curl."""',
        '    return ["leg-curl", f"{a}/leg-curl"]',
    )
    bad.write_text("\n".join(lines), encoding="utf-8")
    assert _named(bad, ["leg-curl"]) == [4, 4]


@pytest.mark.parametrize("package", ["app", "shared", "vision"])
def test_no_file_outgrows_its_page(package: str) -> None:
    long = {
        p.name: n for p in _files(package) if (n := len(p.read_text(encoding="utf-8").splitlines())) > 300
    }
    assert not long


@pytest.mark.parametrize("package", ["app", "shared", "vision"])
def test_no_function_outgrows_its_screen(package: str) -> None:
    long = {
        f"{path.name}:{node.name}": length
        for path in _files(package)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and (length := _code_lines(node)) > 40
    }
    assert not long


def _code_lines(node: ast.FunctionDef) -> int:
    """Lines of a function without its docstring and its signature."""
    first = node.body[1] if len(node.body) > 1 and ast.get_docstring(node) else node.body[0]
    return (node.end_lineno or 0) - first.lineno + 1


@pytest.mark.parametrize("path", _files("app"), ids=lambda p: str(p.relative_to(ROOT)))
def test_a_file_to_keep_is_made_when_it_is_asked_for(path: Path) -> None:
    """Held ready, it is looked up at once, and may be gone where two other screens were drawn meanwhile.

    Nor is a screen drawn anew for it, unless it says so: the next file would be asked of one that is gone.
    """
    buttons = [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == "download_button"
    ]
    assert all(isinstance(button.args[1], ast.Lambda) for button in buttons)
    assert all("on_click" in {given.arg for given in button.keywords} for button in buttons)
