"""Command: python -m sample_clips.places_measure CLIP... --out DIR: how far off marks from the board lie.

Draws the tags of rendered clips of a leg machine, two seconds each, as phones at other places would see them.
Parts are marked exactly in one clip or two, and looked for in the others by the board alone; printed is how
far each mark lies from the truth, and what was said of that. ``pivot`` is the lever's axis, 11 cm before the
board's sheet; ``pad`` stands for a part 10 cm behind it.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sample_clips.rendering.camera import look_at
from sample_clips.rendering.scenario import load_scenario
from sample_clips.tagged import TARGET, UP, Scene, draw, moved, scenario_of
from vision.measuring.machine.board import Board, find_board
from vision.measuring.machine.places import kept_sights, place_marks
from vision.seeing.clip import open_clip
from vision.seeing.marks import MarkPath, MarkPoint
from vision.seeing.tag_tracker import seen_tags, track_tags
from vision.seeing.tags import TagPath

SECONDS, SHORT_SIDE = 2.0, 1080
#: From the lever's axis to what stands for a pad, m.
PAD_BEHIND_M, PAD_UP_M = 0.21, 0.40


@dataclass(frozen=True)
class Phone:
    """Where a phone stands by what differs from the clip's own camera; hard: dim, blurred, grainy."""

    turned_deg: float = 0.0
    higher_m: float = 0.0
    nearer_m: float = 0.0
    fov_deg: float | None = None
    hard: bool = False


PHONES = {
    "its own place": Phone(),
    "2 degrees on": Phone(turned_deg=2.0),
    "15 cm higher": Phone(higher_m=0.15),
    "4 degrees on and 0.5 m nearer": Phone(turned_deg=4.0, nearer_m=0.5),
    "a wider lens, 0.4 m nearer": Phone(fov_deg=73.0, nearer_m=0.4),
    "7 degrees on": Phone(turned_deg=7.0),
    "12 degrees on": Phone(turned_deg=12.0),
    "25 degrees on": Phone(turned_deg=25.0),
    "7 degrees on, hard": Phone(turned_deg=7.0, hard=True),
}
MARKED = (("its own place",), ("its own place", "12 degrees on"))


@dataclass(frozen=True)
class Shown:
    """What one phone shows: the board, and where the parts truly are: pixels (2,), and cm to a pixel."""

    tag: TagPath
    board: Board
    true_px: dict[str, np.ndarray]
    cm_per_px: dict[str, float]

    def sights(self):
        """What is kept of it where somebody points exactly."""
        marks = {name: self._followed(name, xy) for name, xy in self.true_px.items()}
        return kept_sights({"board": self.tag, **marks}, self.board)

    def _followed(self, name, xy):
        shift = self.tag.xy_px - self.tag.steady_px
        return MarkPath(
            MarkPoint(name, *xy), self.tag.time_s, shift + xy, 0.0 * shift + xy, np.ones(len(shift))
        )


def main(arguments=None):
    """Draw what is not there yet, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.places_measure")
    parser.add_argument("clip", nargs="+", type=Path)
    parser.add_argument("--out", required=True, type=Path)
    chosen = parser.parse_args(arguments)
    for clip in chosen.clip:
        found = {name: shown(clip, chosen.out / str(n), PHONES[name]) for n, name in enumerate(PHONES)}
        for marked in MARKED:
            sights = [sight for name in marked for sight in found[name].sights()]
            for name in [one for one in found if one not in marked]:
                row = _row(sights, found[name])
                print(f"{clip.stem}, marked from {' and '.join(marked)}, seen from {name}: {row}")


def shown(clip, folder, phone):
    """The clip as that phone shows it, drawn unless it is there, with its board found."""
    scene = _scene(clip, phone)
    folder.mkdir(parents=True, exist_ok=True)
    drawn = folder / clip.name
    if not drawn.exists():
        draw(scene, clip, folder, phone.hard, SHORT_SIDE, SECONDS)
    source = open_clip(drawn)
    tag = track_tags(source, scene.number, seen_tags(source))["board"]
    axis, camera = scene.axis(), scene.camera
    places = {"pivot": axis, "pad": axis - PAD_BEHIND_M * scene.out + PAD_UP_M * UP}
    scale = SHORT_SIDE / min(camera.width, camera.height)
    far = {name: float(camera.rotation[2] @ (place - camera.position)) for name, place in places.items()}
    return Shown(
        tag,
        find_board(tag, (source.clip.width, source.clip.height)),
        true_px={name: moved(camera.project(place), scale) for name, place in places.items()},
        cm_per_px={name: 100 * far_m / (camera.focal_px * scale) for name, far_m in far.items()},
    )


def _scene(clip, phone):
    scene, spec = Scene(clip), load_scenario(scenario_of(clip)).camera
    changed = replace(
        spec,
        yaw_deg=spec.yaw_deg + phone.turned_deg * np.sign(spec.yaw_deg),
        height_m=spec.height_m + phone.higher_m,
        distance_m=spec.distance_m - phone.nearer_m,
        fov_deg=phone.fov_deg or spec.fov_deg,
    )
    scene.camera = look_at(spec.view, TARGET, changed)
    return scene


def _row(sights, phone):
    placed = place_marks(sights, {"board": phone.tag}, phone.board)
    said = [f"{name} not told ({half:.1f} cm)" for name, half in placed.too_unsure.items()]
    for name, path in placed.marks.items():
        off = np.linalg.norm(np.nanmedian(path.steady_px, axis=0) - phone.true_px[name])
        said.append(f"{name} off by {off * phone.cm_per_px[name]:.1f}, said {path.half_cm:.1f}")
    return "; ".join(said) or placed.why


if __name__ == "__main__":
    main()
