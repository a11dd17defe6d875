"""Command: python -m sample_clips.tagged CLIP... --out DIR [--hard] [--turn 25] [--landings] [--until S].

Draws printed tags into rendered clips where their truth says that load, lever and frame are: exact in space,
a half frame of motion blur, light, grain, and H.264 at ordinary quality, with the picture enlarged to a
phone's. Nothing hides them, and the stack is moved into the picture. ``--turn`` draws them as a camera so
far off would see them, ``--landings`` lets the stack's tag touch and rest: the picture's person does neither.
Beside each clip stands its truth, for ``sample_clips.tagged_measure``.
"""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from sample_clips.rendered import truth_arrays
from sample_clips.rendering.camera import look_at
from sample_clips.rendering.scenario import load_scenario
from sample_clips.tagged_truth import landings, load_way, with_landings
from shared.exercise import find_exercise
from shared.tags import (
    BOARD_COLUMNS,
    BOARD_ROWS,
    QUIET_SHARE,
    SIDE_CM,
    SQUARE_CM,
    black_cells,
    board_squares,
    tag_id,
)
from vision.seeing.clip import open_clip

#: Which way the tags face, as (right, out) for who looks at them, and the stack's and the board's place.
FACES = {
    "side-left": ((0, 1, 0), (1, 0, 0), (0.17, 0.36, 0.41), (0.17, 0.30, 1.35)),
    "side-right": ((0, -1, 0), (-1, 0, 0), (-0.17, 0.36, 0.41), (-0.17, 0.30, 1.35)),
    "front": ((1, 0, 0), (0, -1, 0), (0.60, 0.38, 0.41), (0.60, 0.35, 1.35)),
    "rear": ((-1, 0, 0), (0, 1, 0), (0.60, -0.88, 0.41), (-0.55, -0.80, 1.35)),
}
LEVER_M = 0.28
TARGET = np.array([0.0, -0.30, 0.95])
UP = np.array([0.0, 0.0, 1.0])
CELL_PX, PAPER, INK = 12, 205, 28
SHUTTER = (-0.25, -0.08, 0.08, 0.25)


def main(arguments=None):
    """Draw tags into the clips named."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.tagged")
    parser.add_argument("clip", nargs="+", type=Path)
    parser.add_argument("--out", required=True, type=Path)
    parser.add_argument("--hard", action="store_true", help="dim, blurred, grainy")
    parser.add_argument("--height", type=int, default=1080, help="short side of the picture, px")
    parser.add_argument("--turn", type=float, help="draw them as a camera so many degrees off would see them")
    parser.add_argument("--landings", action="store_true", help="let the stack's tag touch and rest")
    parser.add_argument("--until", type=float, help="leave out what comes after this second")
    chosen = parser.parse_args(arguments)
    chosen.out.mkdir(parents=True, exist_ok=True)
    for clip in chosen.clip:
        scene = Scene(clip, chosen.turn, chosen.landings)
        draw(scene, clip, chosen.out, chosen.hard, chosen.height, chosen.until)
        print(clip.name, flush=True)


def draw(scene, clip, out, hard=False, short_side=1080, until_s=None):
    """Write one clip with tags and its truth."""
    source = open_clip(clip)
    scale = short_side / min(source.clip.width, source.clip.height)
    size = tuple(int(scale * n) // 2 * 2 for n in (source.clip.width, source.clip.height))
    rng = np.random.default_rng(7)
    grain = rng.normal(0, 5.0 if hard else 1.5, (size[1] + 64, size[0] + 64, 1)).repeat(3, 2).astype(np.int16)
    with av.open(str(out / clip.name), "w") as container:
        stream = container.add_stream("libx264", rate=Fraction(30))
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        stream.time_base = stream.codec_context.time_base = Fraction(1, 90000)
        stream.options = {"crf": "23", "preset": "ultrafast"}
        for frame in source.frames(0.0, until_s):
            picture = cv2.warpAffine(frame.image, _larger(scale)[:2], size, flags=cv2.INTER_LINEAR)
            scene.stick(picture, frame.time_s, scale)
            if hard:
                picture = (cv2.GaussianBlur(picture, (0, 0), 1.2) * 0.5).astype(np.uint8)
            x, y = rng.integers(0, 64, 2)
            picture = cv2.add(picture, grain[y : y + size[1], x : x + size[0]], dtype=cv2.CV_8U)
            image = av.VideoFrame.from_ndarray(picture, format="rgb24")
            image.pts, image.time_base = round(frame.time_s * 90000), Fraction(1, 90000)
            container.mux(stream.encode(image))
        container.mux(stream.encode(None))
    scene.write_truth(out / clip.name, scale)


def _larger(scale):
    """Map of the clip's pixels to those of the larger picture (3, 3)."""
    return np.array([[scale, 0, (scale - 1) / 2], [0, scale, (scale - 1) / 2], [0, 0, 1.0]])


class Scene:
    """Camera and tags of one rendered clip; turn_deg: how far off another camera sees the tags."""

    def __init__(self, clip, turn_deg=None, landing=False):
        scenario = load_scenario(scenario_of(clip))
        self.facts = json.loads(clip.with_suffix(".truth.json").read_text())
        self.truth = truth_arrays(clip.with_suffix(".truth.npz"))
        self.load_s, self.load_cm = load_way(self.truth)
        if landing:
            self.load_cm = with_landings(self.load_s, self.load_cm, self.facts["reps"])
        self.pictured = self.camera = look_at(scenario.camera.view, TARGET, scenario.camera)
        if turn_deg is not None:
            self.camera = look_at(scenario.camera.view, TARGET, replace(scenario.camera, yaw_deg=turn_deg))
        self.number = find_exercise(scenario.exercise).tag_number
        self.right, self.out, self.stack, self.board = map(np.array, FACES[scenario.camera.view])
        self.step_s = float(np.median(np.diff(self.truth["time_s"])))
        self.lever = not np.isnan(self.truth["pivot_px"]).any() and scenario.camera.view.startswith("side")
        self.papers = {p: paper(tag_id(self.number, p)) for p in ("stack", "lever")}

    def stick(self, picture, time_s, scale):
        """Draw every tag as it is about a moment (s)."""
        for texture, corners in self._sheets(time_s):
            _stick(picture, texture, [moved(self.camera.project(c), scale) for c in corners])

    def write_truth(self, clip, scale):
        """The clip's truth beside it, with what the tags show; the lever's axis is in the larger picture."""
        spans = landings(self.load_s, self.load_cm, self.facts["reps"])
        added = {"board": self.board_truth(), "landings": [[round(t, 3) for t in span] for span in spans]}
        if self.lever:
            axis = self.camera.project(self.axis())
            added["axis_px"] = [round(float(v), 2) for v in moved(axis, scale)]
        clip.with_suffix(".truth.json").write_text(json.dumps(self.facts | added, indent=1) + "\n")
        load = {"load_s": self.load_s, "load_cm": self.load_cm.astype(np.float32)}
        np.savez_compressed(clip.with_suffix(".truth.npz"), allow_pickle=False, **self.truth, **load)

    def axis(self):
        """The lever's axis, (3,) m."""
        return self._in_plane(self._at("pivot_px", 0.0))

    def board_truth(self):
        """As ``sample_clips.rendering.truth`` gives it."""
        across, ahead, up = (float(self.camera.rotation[2] @ v) for v in (self.right, -self.out, UP))
        return {
            "turn_deg": float(np.degrees(np.arctan2(-across, ahead))),
            "down_deg": float(np.degrees(np.arctan2(-up, np.hypot(across, ahead)))),
            "distance_cm": 100 * float(np.linalg.norm(self.camera.position - self.board)),
        }

    def _sheets(self, time_s):
        """Textures with their corners (4, 3) m at each instant of the exposure."""
        moments = [time_s + share * self.step_s for share in SHUTTER]
        half = SIDE_CM["stack"] / 100 * (0.5 + QUIET_SHARE)
        yield (
            self.papers["stack"],
            [self._square(self.stack + UP * self._load(t) / 100, half) for t in moments],
        )
        yield board_paper(self.number), [self._square(self.board, 0.105, 0.1485)]
        if self.lever:
            half = SIDE_CM["lever"] / 100 * (0.5 + QUIET_SHARE)
            yield self.papers["lever"], [self._on_lever(t, half) for t in moments]

    def _on_lever(self, t, half):
        axis, end = (self._in_plane(self._at(name, t)) for name in ("pivot_px", "handle_px"))
        down = (end - axis) / np.linalg.norm(end - axis)
        return self._square(axis + 0.18 * down, half, up=-down)

    def _square(self, middle, half, tall=None, up=UP):
        right = np.cross(up, self.out)
        a, b = right * half, up * (tall or half)
        return np.array([middle - a + b, middle + a + b, middle + a - b, middle - a - b])

    def _load(self, t):
        return np.interp(t, self.load_s, self.load_cm)

    def _at(self, name, t):
        return np.array([np.interp(t, self.truth["time_s"], v) for v in self.truth[name].T])

    def _in_plane(self, xy):
        """The point (3,) m on the lever's plane that is seen at a pixel of the clip."""
        camera = self.pictured
        sight = np.array([*(xy - np.array(camera.centre_px)) / camera.focal_px, 1.0]) @ camera.rotation
        far = (np.sign(self.out[0]) * LEVER_M - camera.position[0]) / sight[0]
        return camera.position + far * sight


def scenario_of(clip):
    """The scenario of a sample clip or of a rendered clip of the bench."""
    own = clip.parent / "scenarios" / f"{clip.stem}.toml"
    exercise = clip.stem.rpartition("-")[0]
    return own if own.exists() else clip.parents[1] / exercise / f"{clip.stem}.toml"


def paper(marker):
    """A marker with its white edge as grey levels."""
    edge = round(6 * CELL_PX * QUIET_SHARE)
    sheet = np.full((6 * CELL_PX + 2 * edge,) * 2, PAPER, np.uint8)
    _ink(sheet, marker, edge, edge, CELL_PX)
    return sheet


def board_paper(number):
    """The board on its A4 sheet, 3 px a mm."""
    sheet = np.full((891, 630), PAPER, np.uint8)
    square, side = 30 * SQUARE_CM, 30 * SIDE_CM["board"]
    left, top = (630 - BOARD_COLUMNS * square) / 2, (891 - BOARD_ROWS * square) / 2
    for row, column, index in board_squares():
        x, y = left + column * square, top + row * square
        if index is None:
            sheet[round(y) : round(y + square), round(x) : round(x + square)] = INK
        else:
            edge = (square - side) / 2
            _ink(sheet, tag_id(number, "board", index), y + edge, x + edge, side / 6)
    return sheet


def _ink(sheet, marker, top, left, cell):
    for row, column in black_cells(marker):
        y, x = top + row * cell, left + column * cell
        sheet[round(y) : round(y + cell), round(x) : round(x + cell)] = INK


def moved(xy, scale):
    """Pixels of the clip in the larger picture."""
    return scale * xy + (scale - 1) / 2


def _stick(picture, texture, instants):
    """Blend a texture over the picture, its mean over the instants' corners (4, 2) px."""
    height, width = texture.shape
    x0, y0 = np.floor(np.min(instants, axis=(0, 1)) - 2).astype(int)
    x1, y1 = np.ceil(np.max(instants, axis=(0, 1)) + 3).astype(int)
    x0, y0, x1, y1 = max(x0, 0), max(y0, 0), min(x1, picture.shape[1]), min(y1, picture.shape[0])
    if x1 <= x0 or y1 <= y0:
        return
    fine, share, ink = 4, 0.0, 0.0
    source = np.array([[-0.5, -0.5], [width - 0.5, -0.5], [width - 0.5, height - 0.5], [-0.5, height - 0.5]])
    size = ((x1 - x0) * fine, (y1 - y0) * fine)
    for corners in instants:
        target = (corners - (x0, y0) + 0.5) * fine - 0.5
        map_ = cv2.getPerspectiveTransform(source.astype(np.float32), target.astype(np.float32))
        drawn = cv2.warpPerspective(texture, map_, size, flags=cv2.INTER_LINEAR).astype(np.float32)
        mask = cv2.warpPerspective(np.ones_like(texture), map_, size, flags=cv2.INTER_NEAREST)
        ink = ink + cv2.resize(drawn * mask, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA)
        mask = mask.astype(np.float32)
        share = share + cv2.resize(mask, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA)
    ink, share = ink[..., None] / len(instants), share[..., None] / len(instants)
    part = picture[y0:y1, x0:x1]
    part[:] = (part * (1 - share) + ink).astype(np.uint8)


if __name__ == "__main__":
    main()
