"""One landmark model at work, by MediaPipe's PoseLandmarker (Apache-2.0).

The only module that knows MediaPipe; it is imported when first used. Its package brings the
model's run time but no model: ``vision/models/README.md`` says where ours comes from.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from shared.domain import Floats, Image
from shared.errors import InternalError
from shared.keypoints import INDEX, MIRRORED

#: What the package loads to draw and to record sound, neither of which is used: most of its start.
_UNUSED = ("matplotlib", "matplotlib.pyplot", "sounddevice")
_IMPORTING = threading.Lock()
#: Whoever a landmarker that was started anew finds upside down again stays so for so long.
ANEW_STEP_MS = 1000
_SHOULDERS, _HIPS = ([INDEX[f"{side}_{part}"] for side in ("left", "right")] for part in ("shoulder", "hip"))


class Landmarker:
    """A landmark model in video mode: it looks where it found somebody before."""

    def __init__(self, open_: contextlib.ExitStack, model: Path):
        """InternalError when the model cannot be run; open_: closes it."""
        self._model = model
        self._open = open_.enter_context(contextlib.ExitStack())
        self._started = self._open.enter_context(_landmarker(model))
        self._due_ms = 0

    def look(self, image: Image, at_ms: int, mirrored: bool = False) -> list[Floats]:
        """(33, 8) of x y z, X Y Z, visibility, presence of the one person found, pixels; or nothing.

        mirrored: look at the mirror image, and say where things lie in the picture itself.
        """
        return (_look_mirrored if mirrored else _look)(*self._started, image, at_ms)

    def start_anew(self, at_ms: int, again_ms: int = ANEW_STEP_MS) -> bool:
        """Forget where somebody was found, and not once more for ``again_ms``; False where it is too soon."""
        if at_ms < self._due_ms:
            return False
        self._open.close()
        self._started = self._open.enter_context(_landmarker(self._model))
        self._due_ms = at_ms + again_ms
        return True


def is_upside_down(pose: Floats) -> bool:
    """Whether the shoulders of a pose (33, 8) lie lower in the picture than its hips: nobody trains so.

    A model that once takes two legs for a body on its head goes on doing so for as long as they are there.
    """
    return bool(pose[_SHOULDERS, 1].mean() > pose[_HIPS, 1].mean())


def _look(landmarker: Any, mediapipe: Any, image: Any, at_ms: int) -> list[Floats]:
    """(33, 8) of x y z, X Y Z, visibility, presence of the one person found, pixels; or nothing."""
    picture = mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=image)
    with contextlib.nullcontext() if _CHATTER.over else _quiet():
        found = landmarker.detect_for_video(picture, at_ms)
        _CHATTER.over = _CHATTER.over or bool(found.pose_landmarks)
    height, width = image.shape[:2]
    out = []
    for flat, world in zip(found.pose_landmarks, found.pose_world_landmarks, strict=True):
        points = zip(flat, world, strict=True)
        pose = np.array([(a.x, a.y, a.z, b.x, b.y, b.z, a.visibility, a.presence) for a, b in points])
        pose[:, :3] *= width, height, width
        out.append(pose)
    return out


def _look_mirrored(landmarker: Any, mediapipe: Any, image: Image, at_ms: int) -> list[Floats]:
    """What ``_look`` finds in the mirror image, mirrored back."""
    found = _look(landmarker, mediapipe, np.ascontiguousarray(image[:, ::-1]), at_ms)
    back = [pose[list(MIRRORED)] for pose in found]
    for pose in back:
        pose[:, 0] = image.shape[1] - 1 - pose[:, 0]
        pose[:, 3] *= -1
    return back


@contextlib.contextmanager
def _without(modules: Iterable[str]) -> Iterator[None]:
    """Empty modules in place of those not imported yet, so that importing does not pull them in."""
    absent = [name for name in modules if name not in sys.modules]
    sys.modules.update({name: ModuleType(name) for name in absent})
    try:
        yield
    finally:
        for name in absent:
            del sys.modules[name]


@contextlib.contextmanager
def _landmarker(model: Path) -> Iterator[tuple[Any, Any]]:
    """A PoseLandmarker in video mode for one person; the native start-up chatter is kept off the terminal."""
    with _IMPORTING, _without(_UNUSED):
        import mediapipe
        from mediapipe.tasks.python import BaseOptions, vision

    options = vision.PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=str(model)),
        running_mode=vision.RunningMode.VIDEO,
    )
    try:
        with _quiet():
            landmarker = vision.PoseLandmarker.create_from_options(options)
    except (RuntimeError, ValueError) as error:
        raise InternalError(
            f"The landmark model {model.name} could not be started; it may be damaged or of another kind."
        ) from error
    try:
        yield landmarker, mediapipe
    finally:
        with _quiet():
            landmarker.close()


class _Chatter:
    """What native code writes to stderr: at every start and stop, and once when it first finds someone."""

    over = False
    lock = threading.Lock()


_CHATTER = _Chatter()


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Send what native code writes to stderr nowhere, unless PLUMBSET_DEBUG is set; one thread at a time."""
    if os.environ.get("PLUMBSET_DEBUG"):
        yield
        return
    with _CHATTER.lock:
        sys.stderr.flush()
        kept = os.dup(2)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        try:
            yield
        finally:
            sys.stderr.flush()
            os.dup2(kept, 2)
            os.close(kept)
            os.close(nowhere)
