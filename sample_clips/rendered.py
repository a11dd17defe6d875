"""The bench's rendered clips and their truth."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

RENDERED = Path(__file__).parent / "bench" / "rendered"
#: What looking at them gave.
CACHE = RENDERED / "seen"


def bench_clips(part: str, short: bool) -> list[Path]:
    """Rendered clips of one part, or of all, sorted; with short, the three an exercise that say so."""
    out = []
    for truth_file in sorted(RENDERED.glob("*.truth.json")):
        truth = json.loads(truth_file.read_text())
        if part in ("all", truth["part"]) and (truth["short"] or not short):
            out.append(clip_of(truth_file))
    return out


def clip_of(truth_file: Path) -> Path:
    """The clip beside a truth file."""
    return truth_file.with_name(truth_file.name.replace(".truth.json", ".mp4"))


def truth_of(clip: Path) -> dict[str, Any]:
    """The truth beside a clip."""
    truth: dict[str, Any] = json.loads(clip.with_name(f"{clip.stem}.truth.json").read_text())
    return truth


def truth_arrays(path: Path) -> dict[str, np.ndarray]:
    """Per-frame truth of a rendered clip, by name."""
    with np.load(path, allow_pickle=False) as data:
        return {name: data[name] for name in data.files}
