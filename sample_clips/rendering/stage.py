"""One scenario put together: bodies, machine, room and camera as batches of meshes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sample_clips.rendering import machines, room, wardrobe
from sample_clips.rendering.body import make_body
from sample_clips.rendering.camera import look_at
from sample_clips.rendering.crowd import Person
from sample_clips.rendering.mirrored import Mirror
from sample_clips.rendering.motion import Motion
from sample_clips.rendering.raster import Batch, Canvas
from sample_clips.rendering.rig import Rig
from sample_clips.rendering.scene import merge

KEY_LIGHTS = {
    "side-left": (0.6, -0.35, 0.72),
    "side-right": (-0.6, -0.35, 0.72),
    "front": (0.3, -0.65, 0.7),
    "rear": (0.3, 0.65, 0.7),
}


class Stage:
    """The lifter, the machine, the other people and the room of one scenario."""

    def __init__(self, scenario):
        self.scenario = scenario
        self.absent = scenario.exercise == "none-passing"
        self.body = make_body(scenario.body)
        self.rig = Rig(self.body)
        self.motion = Motion(scenario, self.rig)
        self.people = [Person(spec) for spec in scenario.people]
        first = self.motion.nominal(0.0)
        self.camera = look_at(scenario.camera.view, np.array([0.0, -0.30, 0.95]), scenario.camera)
        near = ".L" if self.camera.position[0] > 0 else ".R"
        self.machine = machines.Machine(self.motion, self.skin(first), near)
        self._build()

    def skin(self, pose):
        """Posed mesh (V, 3) m of the lifter."""
        rotations, centres = self.rig.solve(pose)
        mesh, shift = self.body.mesh, self.rig.bone_shift(rotations, centres)
        out = np.zeros_like(mesh.verts)
        for k in range(4):
            bone = mesh.bone_idx[:, k]
            moved = np.einsum("vij,vj->vi", rotations[bone], mesh.verts) + shift[bone]
            out += mesh.bone_weight[:, k : k + 1] * moved
        return out

    def _build(self):
        rows = machines.materials(self.scenario.machine)
        around = room.materials(self.scenario.set.seed)
        plain = [np.repeat(np.asarray(row)[None], 7, 0) for row in (*rows, *around)]
        view, distance_m = self.scenario.camera.view, self.scenario.machine.mirror_m
        self.mirror = Mirror(np.array([*room.AWAY[view], 0.0]), distance_m) if distance_m else None
        surroundings = room.room(self.scenario.set.seed, view, furnished=self.mirror is None)
        static = merge(
            [
                *self.machine.static,
                *(_shift_material(m, len(rows)) for m in surroundings),
                *self._mirror_static(),
            ]
        )
        self.canvas = Canvas(
            self.camera.width, self.camera.height, _unit(KEY_LIGHTS[self.scenario.camera.view])
        )
        batch = Batch(static, plain)
        batch.project(np.eye(3)[None], np.zeros((1, 3)), self.camera)
        self.canvas.draw_static(batch)
        bodies = [self.body, *(p.body for p in self.people)]
        palettes = plain + [
            wardrobe.palette(s) for s in (self.scenario.body, *(p.spec.body for p in self.people))
        ]
        meshes, bone, self._start = [], 0, []
        self._ranges, vertex = [], 0
        for i, body in enumerate(bodies):
            meshes.append(
                replace(
                    body.mesh,
                    bone_idx=body.mesh.bone_idx + bone,
                    material=body.mesh.material + len(plain) + i,
                )
            )
            self._ranges.append((vertex, vertex + len(body.mesh.verts)))
            vertex += len(body.mesh.verts)
            bone += len(body.names)
        for part in self.machine.parts:
            meshes += [replace(m, bone_idx=m.bone_idx + bone) for m in part]
            bone += 1
        if self.mirror:
            meshes += [replace(m, bone_idx=m.bone_idx + bone, faces=m.faces[:, ::-1]) for m in list(meshes)]
        self.batch = Batch(merge(meshes), palettes)

    def _mirror_static(self):
        if not self.mirror:
            return []
        return [*self.mirror.frame(machines.STEEL), *map(self.mirror.static, self.machine.static)]

    def frame(self, t):
        """Draw the scene at t (s); returns `Shot` (the picture is in `canvas.frame`)."""
        pose, held = self.motion.pose(t)
        rotations, centres = self.rig.solve(pose)
        shown = [
            self._gone(len(centres)) if self.absent else (rotations, self.rig.bone_shift(rotations, centres))
        ]
        present = [not self.absent]
        for person in self.people:
            other = person.pose(t)
            present.append(other is not None)
            count = len(person.body.names)
            if other is None:
                shown.append(self._gone(count))
                continue
            r, c = person.rig.solve(other)
            shown.append((r, person.rig.bone_shift(r, c)))
        moved, marks = self.machine.place(held, t)
        shown += [(np.asarray(r)[None], np.asarray(s)[None]) for r, s in moved]
        if self.mirror:
            shown += [self.mirror.moving(r, s) for r, s in shown]
        rot = np.concatenate([r for r, _ in shown])
        shift = np.concatenate([s for _, s in shown])
        screen = self.batch.project(rot, shift, self.camera)
        self.canvas.draw(self.batch, screen)
        return self._shot(pose, rotations, centres, marks, screen, present)

    def _gone(self, bones):
        """Transforms that put a body where the camera does not see it."""
        return np.zeros((bones, 3, 3)), np.tile(self.camera.position, (bones, 1))

    def _shot(self, pose, rotations, centres, marks, screen, present):
        world = self.batch.world.numpy()
        heads = []
        for (start, _), body, here in zip(
            self._ranges, [self.body, *(p.body for p in self.people)], present, strict=True
        ):
            heads.append(head_circle(screen[start + body.vertex["skull"]]) if here else (np.nan,) * 3)
        places = {
            name: world[self._ranges[0][0] + v].copy()
            for name, v in self.body.vertex.items()
            if name != "skull"
        }
        return {
            "pose": pose,
            "rotations": rotations,
            "centres": centres,
            "marks": marks,
            "heads": heads,
            "points": places,
        }


def head_circle(points):
    """Centre and radius (x, y, r) px that hold all skull points (N, 3) on the screen; NaN if behind."""
    seen = points[points[:, 2] > 0, :2]
    if not len(seen):
        return (np.nan,) * 3
    centre = (seen.min(0) + seen.max(0)) / 2
    return (*centre, float(np.linalg.norm(seen - centre, axis=1).max()))


def _shift_material(mesh, by):
    return replace(mesh, material=mesh.material + by)


def _unit(v):
    v = np.asarray(v, float)
    return v / np.linalg.norm(v)
