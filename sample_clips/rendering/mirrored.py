"""A mirror on the wall: whatever moves, and the machine, once more behind its plane."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sample_clips.rendering.scene import box


@dataclass(frozen=True)
class Mirror:
    """An upright mirror; away (3,): from the camera to it; distance_m: of its plane from the origin."""

    away: np.ndarray
    distance_m: float

    def static(self, mesh):
        """The mesh behind the plane; a reflection turns faces round."""
        turned, shift = self._reflection()
        return replace(
            mesh,
            verts=mesh.verts @ turned.T + shift,
            normals=mesh.normals @ turned.T,
            faces=mesh.faces[:, ::-1],
        )

    def moving(self, rotations, shifts):
        """Transforms (B, 3, 3), (B, 3) of bones behind the plane; their mesh needs its faces turned round."""
        turned, shift = self._reflection()
        return turned @ rotations, shifts @ turned.T + shift

    def frame(self, material):
        """The meshes of the frame about it."""
        deep, across = np.abs(self.away), np.abs(self.away[[1, 0, 2]])
        middle, up = self.away * self.distance_m, np.array([0.0, 0.0, 1.0])
        post, beam = deep * 0.03 + across * 0.05 + up * 2.2, deep * 0.03 + across * 3.0 + up * 0.06
        sides = [box(tuple(middle + 1.5 * s * across + 1.1 * up), tuple(post), material) for s in (-1, 1)]
        return [*sides, box(tuple(middle + 2.2 * up), tuple(beam), material)]

    def _reflection(self):
        outer = np.outer(self.away, self.away)
        return np.eye(3) - 2 * outer, 2 * self.distance_m * self.away
