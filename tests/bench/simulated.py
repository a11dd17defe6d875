"""Simulated sets as data: exact joints in the picture with the exact drive, and their file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np


@dataclass(frozen=True)
class SimulatedSet:
    """joints_px (T, J, 2) upright picture by names (J,), drive_deg (T,); near: left or right."""

    exercise: str
    view: str
    yaw_off_deg: float
    near: str
    names: tuple[str, ...]
    joints_px: np.ndarray
    drive_deg: np.ndarray

    def xy(self, name: str) -> np.ndarray:
        """Pixels of one joint, (T, 2)."""
        return self.joints_px[:, self.names.index(name)]


def save_sets(sets: Iterable[SimulatedSet], path: Path) -> None:
    """Write sets of equal length as one compressed file."""
    kept = list(sets)
    columns = {
        k: np.array([getattr(s, k) for s in kept]) for k in ("exercise", "view", "yaw_off_deg", "near")
    }
    np.savez_compressed(
        path,
        names=np.array(kept[0].names),
        joints_px=np.array([s.joints_px for s in kept], dtype=np.float32),
        drive_deg=np.array([s.drive_deg for s in kept], dtype=np.float32),
        **columns,
    )


def load_sets(path: Path) -> list[SimulatedSet]:
    """Read back what ``save_sets`` wrote."""
    with np.load(path, allow_pickle=False) as data:
        names = tuple(str(n) for n in data["names"])
        columns = [data[k] for k in ("exercise", "view", "yaw_off_deg", "near", "joints_px", "drive_deg")]
        return [
            SimulatedSet(
                str(ex), str(view), float(yaw), str(near), names, px.astype(float), drive.astype(float)
            )
            for ex, view, yaw, near, px, drive in zip(*columns, strict=True)
        ]
