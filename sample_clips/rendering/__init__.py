"""Renderer of strength sets with exact truth (an optional extra of the project).

The flow: scenario file -> motion (per-frame poses) -> scene (meshes moved by
bones) -> raster (pictures) -> clip and truth files.

World axes: z up, the lifter faces -y and has the left side toward +x; metres.
"""

from sample_clips.rendering.scenario import Scenario, ScenarioError, load_scenario

__all__ = ["RENDERER_VERSION", "Scenario", "ScenarioError", "load_scenario", "render"]

RENDERER_VERSION = "2"


def render(scenario, out_dir):
    """Render one scenario; see `sample_clips.rendering.job.render`."""
    from sample_clips.rendering.job import render as render_job

    return render_job(scenario, out_dir)
