"""A small z-buffer rasteriser on one CPU core (no GL).

Meshes are skinned to bones (rigid parts have one bone), projected, rasterised
at twice the picture's resolution and resolved with one shade a triangle and
pixel. The static scene is rasterised once; each frame redraws only the moving
part. Pixel convention: integer coordinates are pixel centres, x right, y down.
"""

from __future__ import annotations

import numpy as np
import warp as wp

from sample_clips.rendering.kernels import rasterise, resolve, skin_project


class Batch:
    """Meshes that move together with a list of bones, on the device.

    `mesh` is a `scene.Mesh`; `palettes` (M, 7, 3) linear colours, slot 0 the
    bare surface and slots 1..6 one for each positive field, later ones win.
    """

    def __init__(self, mesh, palettes):
        self.count = len(mesh.verts)
        self.rest = wp.array(mesh.verts.astype(np.float32), dtype=wp.vec3)
        self.rest_n = wp.array(mesh.normals.astype(np.float32), dtype=wp.vec3)
        self.idx = wp.array(mesh.bone_idx.astype(np.int32))
        self.weight = wp.array(mesh.bone_weight.astype(np.float32))
        self.faces = wp.array(mesh.faces.astype(np.int32))
        self.fields = wp.array(mesh.fields.astype(np.float32))
        self.material = wp.array(mesh.material.astype(np.int32))
        self.palette = wp.array(np.asarray(palettes, np.float32), dtype=wp.vec3)
        self.world = wp.zeros(self.count, dtype=wp.vec3)
        self.normal = wp.zeros(self.count, dtype=wp.vec3)
        self.screen = wp.zeros(self.count, dtype=wp.vec3)

    def project(self, rot, shift, camera):
        """Skin to bones rot (B, 3, 3), shift (B, 3) and project; returns screen (V, 3)."""
        wp.launch(
            skin_project,
            dim=self.count,
            inputs=[
                self.rest,
                self.rest_n,
                self.idx,
                self.weight,
                wp.array(rot.astype(np.float32), dtype=wp.mat33),
                wp.array(shift.astype(np.float32), dtype=wp.vec3),
                wp.mat33(*camera.rotation.ravel().tolist()),
                wp.vec3(*camera.position.tolist()),
                wp.vec3(camera.focal_px, *camera.centre_px),
                self.world,
                self.normal,
                self.screen,
            ],
        )
        return self.screen.numpy()


class Canvas:
    """Picture buffers of one camera: static depth and colour, and the frame."""

    def __init__(self, width, height, key):
        self.width, self.height = width, height
        self.key = wp.vec3(*key)
        self.static_z = np.zeros((2 * height, 2 * width), np.float32)
        self.z = wp.zeros((2 * height, 2 * width), dtype=wp.float32)
        self.ids = wp.zeros((2 * height, 2 * width), dtype=wp.int32)
        self.back = wp.zeros((height, width), dtype=wp.vec3)
        self.frame = wp.zeros((height, width), dtype=wp.vec3)
        self._z, self._ids = self.z.numpy(), self.ids.numpy()
        self._frame, self._back = self.frame.numpy(), self.back.numpy()
        self._dirty = (0, 0, width, height)

    def draw_static(self, batch):
        """Rasterise an already projected batch into the background."""
        self._draw(batch, (0, 0, self.width, self.height))
        self._back[:] = self._frame
        self.static_z[:] = self._z

    def draw(self, batch, screen):
        """Redraw the moving batch over the background; the frame is ready after it."""
        x0, y0, x1, y1 = self._box(screen)
        px0, py0, px1, py1 = self._dirty
        self._frame[py0:py1, px0:px1] = self._back[py0:py1, px0:px1]
        self._dirty = (x0, y0, x1, y1)
        if x1 > x0 and y1 > y0:
            self._draw(batch, self._dirty)

    def _box(self, screen):
        seen = screen[screen[:, 2] > 0]
        if not len(seen):
            return 0, 0, 0, 0
        low = np.floor(seen[:, :2].min(0)).astype(int) - 1
        high = np.ceil(seen[:, :2].max(0)).astype(int) + 2
        clip = np.clip([low[0], low[1], high[0], high[1]], 0, [self.width, self.height] * 2)
        return tuple(int(v) for v in clip)

    def _draw(self, batch, box):
        x0, y0, x1, y1 = box
        region = np.s_[2 * y0 : 2 * y1, 2 * x0 : 2 * x1]
        self._z[region] = self.static_z[region]
        self._ids[region] = -1
        wp.launch(
            rasterise,
            dim=batch.faces.shape[0],
            inputs=[batch.faces, batch.screen, 2 * self.width, 2 * self.height, self.z, self.ids],
        )
        wp.launch(
            resolve,
            dim=(y1 - y0, x1 - x0),
            inputs=[
                x0,
                y0,
                self.ids,
                batch.faces,
                batch.screen,
                batch.normal,
                batch.world,
                batch.fields,
                batch.material,
                batch.palette,
                self.key,
                self.back,
                self.frame,
            ],
        )
