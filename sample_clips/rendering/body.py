"""A body as a mesh on a reduced set of bones, with clothes as signed fields."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from sample_clips.rendering import wardrobe
from sample_clips.rendering.anny_source import rest_body
from sample_clips.rendering.scene import Mesh

SIDES = (".L", ".R")
TRUNK = ("spine05", "spine04", "spine03", "spine02", "spine01")
LIMB = (
    "upperleg01",
    "upperleg02",
    "lowerleg01",
    "lowerleg02",
    "foot",
    "clavicle",
    "shoulder01",
    "upperarm01",
    "upperarm02",
    "lowerarm01",
    "lowerarm02",
    "wrist",
)
FINGERS = tuple(f"finger{i}-{j}" for i in range(1, 6) for j in range(1, 4))
KEPT = (
    "root",
    *TRUNK,
    "neck01",
    "neck02",
    "neck03",
    "head",
    *(name + side for side in SIDES for name in (*LIMB, *FINGERS)),
)


@dataclass
class Body:
    """Rest pose of one body; metres, z up, facing -y.

    names (B,), parents (B,), heads (B, 3) joint centres; mesh with bone
    numbers local to the body; landmarks: name -> vertex numbers.
    """

    names: list
    parents: np.ndarray
    heads: np.ndarray
    mesh: Mesh
    stature_m: float
    index: dict = field(default_factory=dict)
    vertex: dict = field(default_factory=dict)

    def head_of(self, name):
        """Rest joint centre (3,) m of a bone."""
        return self.heads[self.index[name]]

    def length(self, first, second):
        """Distance in metres between two rest joint centres."""
        return float(np.linalg.norm(self.head_of(second) - self.head_of(first)))


def make_body(spec):
    """Body of a `scenario.BodySpec`."""
    raw = rest_body(spec.gender, spec.anny_age, spec.muscle, spec.build, spec.height_cm, spec.proportions)
    names, parents, heads, remap = _reduce_bones(raw)
    bone_idx, weight = _reduce_weights(raw, remap, len(names))
    verts = raw["verts"]
    index = {name: i for i, name in enumerate(names)}
    for side in SIDES:
        heads[index["lowerarm01" + side]] = _elbow_centre(verts, bone_idx, weight, index, side)
    floor = verts[:, 2].min()
    normals = vertex_normals(verts, raw["faces"])
    owner = _arm_share(bone_idx, weight, names)
    fields = wardrobe.clothe(verts, heads, index, owner, raw, spec)
    verts = verts + normals * wardrobe.thickness(fields, spec)[:, None]
    mesh = Mesh(
        verts,
        vertex_normals(verts, raw["faces"]),
        bone_idx,
        weight,
        raw["faces"],
        fields,
        np.zeros(len(raw["faces"]), int),
    )
    body = Body(names, parents, heads, mesh, float(verts[:, 2].max() - floor), index)
    body.vertex = _landmark_vertices(raw["verts"], bone_idx, weight, index)
    return body


def vertex_normals(verts, faces):
    """Area-weighted unit normals (V, 3)."""
    p = verts[faces]
    n = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
    total = np.zeros_like(verts)
    for k in range(3):
        np.add.at(total, faces[:, k], n)
    return total / (np.linalg.norm(total, axis=1, keepdims=True) + 1e-12)


def _reduce_bones(raw):
    labels = [str(n) for n in raw["names"]]
    kept = {name: i for i, name in enumerate(n for n in labels if n in KEPT)}
    remap, parents = np.zeros(len(labels), int), []
    for i in range(len(labels)):
        j = i
        while labels[j] not in kept:
            j = int(raw["parents"][j])
        remap[i] = kept[labels[j]]
    for name in kept:
        up = int(raw["parents"][labels.index(name)])
        parents.append(-1 if up < 0 else int(remap[up]))
    heads = np.array([raw["heads"][labels.index(name)] for name in kept])
    return list(kept), np.array(parents), heads, remap


def _reduce_weights(raw, remap, bones):
    rows = np.arange(len(raw["verts"]))[:, None]
    dense = np.zeros((len(raw["verts"]), bones))
    np.add.at(dense, (np.broadcast_to(rows, raw["indices"].shape), remap[raw["indices"]]), raw["weights"])
    idx = np.argsort(-dense, axis=1)[:, :4]
    weight = np.take_along_axis(dense, idx, 1)
    return idx, weight / weight.sum(1, keepdims=True)


def _dense(bone_idx, weight, bones):
    dense = np.zeros((len(bone_idx), bones))
    np.put_along_axis(dense, bone_idx, weight, 1)
    return dense


def _elbow_centre(verts, bone_idx, weight, index, side):
    """Centroid of the elbow ring: vertices shared by upper arm and forearm."""
    dense = _dense(bone_idx, weight, len(index))
    share = dense[:, index["upperarm02" + side]] * dense[:, index["lowerarm01" + side]]
    ring = share > 0.5 * share.max()
    return verts[ring].mean(0)


def _arm_share(bone_idx, weight, names):
    arm = np.array([n.startswith(("upperarm", "lowerarm", "wrist", "finger")) for n in names])
    head = np.array([n == "head" for n in names])
    return {"arm": (weight * arm[bone_idx]).sum(1), "head": (weight * head[bone_idx]).sum(1)}


def _landmark_vertices(verts, bone_idx, weight, index):
    dense = _dense(bone_idx, weight, len(index))
    skull = np.flatnonzero(dense[:, index["head"]] > 0.9)
    nose = skull[np.argmin(verts[skull, 1])]
    level = skull[np.abs(verts[skull, 2] - verts[nose, 2] - 0.015) < 0.035]
    found = {
        "nose": nose,
        "left_ear": level[np.argmax(verts[level, 0])],
        "right_ear": level[np.argmin(verts[level, 0])],
    }
    for word, side in (("left", ".L"), ("right", ".R")):
        foot = np.flatnonzero(dense[:, index["foot" + side]] > 0.5)
        low = foot[verts[foot, 2] < verts[foot, 2].min() + 0.04]
        found[word + "_heel"] = low[np.argmax(verts[low, 1])]
        found[word + "_toe"] = foot[np.argmin(verts[foot, 1])]
    found["skull"] = skull
    return found
