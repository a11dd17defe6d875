"""What a look at a clip depends on: the clip, the landmark models and the code that sees, each as a digest.

Of code only what runs counts: imports, docstrings, comments and blank lines are left out, and so is where
a module lies. Whatever else is written anew asks for new looks, even where it changes nothing.
"""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from vision.seeing.pose_mediapipe import SURVEY_MODEL, MediaPipePose

_ROOT = Path(__file__).parents[1]
#: Looking begins in these; what they import of our own decides as well.
_FIRST = (
    "vision.seeing.clip", "vision.seeing.limb_flow", "vision.seeing.look", "vision.seeing.pose_mediapipe",
)  # fmt: skip
_OURS = ("vision.", "shared.keypoints")


def look_key(clip: Path, pose: MediaPipePose) -> dict[str, str]:
    """Digests by what they stand for: "the clip", "the models", "the code that sees"."""
    return {
        "the clip": _digest(clip.read_bytes()),
        "the models": _digest(*(_digest_of_file(model).encode() for model in (pose.model, SURVEY_MODEL))),
        "the code that sees": _code_digest(),
    }


def essence(source: str) -> str:
    """The lines of a module that run, without imports, docstrings, comments and blank lines."""
    lines = source.splitlines()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.stmt) and not _runs(node):
            for number in range(node.lineno - 1, node.end_lineno or node.lineno):
                lines[number] = ""
    return "\n".join(line.rstrip() for line in lines if line.strip() and not line.strip().startswith("#"))


def seeing_modules() -> list[Path]:
    """The files of the modules that looking is made of."""
    found: dict[str, Path] = {}
    wanted = list(_FIRST)
    while wanted:
        name = wanted.pop()
        path = _ROOT.joinpath(*name.split(".")).with_suffix(".py")
        if name not in found and name.startswith(_OURS) and path.is_file():
            found[name] = path
            wanted += _imported(path.read_text(encoding="utf-8"))
    return [found[name] for name in sorted(found)]


def _imported(source: str) -> Iterable[str]:
    """Dotted names that a module imports when it is loaded; of a name in a module both are given."""
    for node in ast.parse(source).body:
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def _runs(node: ast.stmt) -> bool:
    """Whether a statement does anything: an import only brings what is looked at itself, text is words."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return not isinstance(node.value.value, str)
    return not isinstance(node, ast.Import | ast.ImportFrom)


@cache
def _code_digest() -> str:
    """Sorted by content, so that a module that only moves changes nothing."""
    sources = (path.read_text(encoding="utf-8") for path in seeing_modules())
    return _digest(*sorted(essence(source).encode() for source in sources))


@cache
def _digest_of_file(path: Path) -> str:
    return _digest(path.read_bytes())


def _digest(*parts: bytes) -> str:
    return hashlib.sha256(b"\n".join(parts)).hexdigest()[:16]
