"""Renders one scenario to its clip and truth files, with a cache by scenario hash."""

from __future__ import annotations

import json
import os
from pathlib import Path

import numpy as np

from sample_clips.rendering import RENDERER_VERSION
from sample_clips.rendering.camera import apply_homography
from sample_clips.rendering.scenario import load_scenario
from sample_clips.rendering.truth import scenario_hash


def outputs(scenario, out_dir):
    """Paths (clip, truth json, truth npz) of a scenario."""
    out = Path(out_dir)
    return tuple(out / f"{scenario.name}{suffix}" for suffix in (".mp4", ".truth.json", ".truth.npz"))


def is_fresh(scenario, out_dir):
    """True when the clip there was rendered from this scenario by this renderer."""
    clip, truth, arrays = outputs(scenario, out_dir)
    if not (clip.exists() and truth.exists() and arrays.exists()):
        return False
    return json.loads(truth.read_text()).get("scenario_hash") == scenario_hash(scenario, RENDERER_VERSION)


def render(scenario, out_dir, tick=None):
    """Render one scenario (a `Scenario` or a path) into out_dir; returns the three paths.

    tick(done, total) is called after each frame. The clip appears under its
    name when it is complete, and the truth JSON last.
    """
    from sample_clips.rendering.clip import Finisher, Shake, Writer, frame_times
    from sample_clips.rendering.stage import Stage
    from sample_clips.rendering.truth import FrameTruth, summary

    if not hasattr(scenario, "exercise"):
        scenario = load_scenario(scenario)
    clip_path, truth_path, arrays_path = outputs(scenario, out_dir)
    clip_path.parent.mkdir(parents=True, exist_ok=True)
    stage = Stage(scenario)
    camera, video, seed = stage.camera, scenario.video, scenario.set.seed
    times = frame_times(stage.motion.timeline.duration_s, video, seed)
    shake = Shake(scenario.camera.shake_deg, seed) if scenario.camera.shake_deg else None
    finish, truth = Finisher(video, camera.width, camera.height, seed), FrameTruth(stage)
    part = clip_path.with_suffix(f".{os.getpid()}.part")
    writer = Writer(part, camera.width, camera.height, video)
    for i, t in enumerate(times):
        shot = stage.frame(t)
        h = camera.shake_homography(*shake.at(t)) if shake else None
        writer.write(finish(stage.canvas.frame, h), t)
        truth.add(t, shot, (lambda p, h=h: apply_homography(h, p)) if shake else (lambda p: p))
        if tick:
            tick(i + 1, len(times))
    writer.close(float(times[-1]))
    truth_path.unlink(missing_ok=True)
    part.replace(clip_path)
    np.savez_compressed(arrays_path, **truth.arrays())
    truth_path.write_text(json.dumps(summary(stage, times, RENDERER_VERSION), indent=1) + "\n")
    return clip_path, truth_path, arrays_path


def refresh_truth(scenario, out_dir):
    """Write the truth JSON of an already rendered clip anew (times from its arrays); returns the paths."""
    from sample_clips.rendering.stage import Stage
    from sample_clips.rendering.truth import summary

    paths = outputs(scenario, out_dir)
    with np.load(paths[2]) as stored:
        times = stored["time_s"]
    paths[1].write_text(json.dumps(summary(Stage(scenario), times, RENDERER_VERSION), indent=1) + "\n")
    return paths
