"""Rest-pose bodies from the anny model (Apache-2.0 code, CC0 data), cached on disk."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import numpy as np

_MODEL = []
CACHE_FORMAT = 1


def cache_dir():
    """Folder of cached rest bodies (honours XDG_CACHE_HOME)."""
    root = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(root) / "plumbset-rendering"


def rest_body(gender, age, muscle, weight, height_cm, proportions):
    """Rest arrays of one body, all in metres, as a dict.

    verts (V, 3), faces (F, 3), heads (B, 3), names (B,), parents (B,),
    weights (V, 9), indices (V, 9). gender 0 male to 1 female; age is anny's
    0.62 (young adult) to 1.0 (old); muscle, weight, proportions 0 to 1.
    The stature is met within 2 mm by bisection of anny's height phenotype.
    """
    wanted = {
        "gender": gender,
        "age": age,
        "muscle": muscle,
        "weight": weight,
        "height_cm": height_cm,
        "proportions": proportions,
        "format": CACHE_FORMAT,
    }
    digest = hashlib.sha256(json.dumps(wanted, sort_keys=True).encode()).hexdigest()[:16]
    path = cache_dir() / f"body-{digest}.npz"
    if not path.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        arrays = _from_anny(gender, age, muscle, weight, height_cm, proportions)
        part = path.with_suffix(f".{os.getpid()}.part.npz")
        np.savez(part, **arrays)
        part.replace(path)
    with np.load(path, allow_pickle=False) as stored:
        return {key: stored[key] for key in stored.files}


def _model():
    if not _MODEL:
        import warnings

        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            import anny

            _MODEL.append(anny.create_fullbody_model(triangulate_faces=True))
    return _MODEL[0]


def _from_anny(gender, age, muscle, weight, height_cm, proportions):
    import torch

    torch.set_num_threads(1)
    model = _model()

    def rest(height):
        numbers = {
            "gender": gender,
            "age": age,
            "muscle": muscle,
            "weight": weight,
            "height": height,
            "proportions": proportions,
        }
        with torch.no_grad():
            return model(
                phenotype_kwargs={
                    k: torch.tensor([float(v)], dtype=torch.float64) for k, v in numbers.items()
                }
            )

    low, high = 0.0, 1.0
    for _ in range(9):
        middle = 0.5 * (low + high)
        out = rest(middle)
        z = out["rest_vertices"][0, :, 2]
        low, high = (middle, high) if float(z.max() - z.min()) * 100 < height_cm else (low, middle)
    return {
        "verts": out["rest_vertices"][0].numpy(),
        "heads": out["rest_bone_heads"][0].numpy(),
        "faces": np.asarray(model.faces),
        "weights": model.vertex_bone_weights.numpy(),
        "indices": model.vertex_bone_indices.numpy(),
        "names": np.array(model.bone_labels),
        "parents": np.array(model.bone_parents),
    }
