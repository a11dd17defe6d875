"""Clothes, hair and face marks as signed fields on the vertices (metres, positive inside).

Order of the fields (later ones win): lips, brow and iris, hair, shorts, shirt, shoes.
"""

from __future__ import annotations

import numpy as np

SKIN_TONES = {
    "pale": (0.78, 0.55, 0.44),
    "light": (0.68, 0.44, 0.32),
    "medium": (0.5, 0.29, 0.19),
    "brown": (0.28, 0.145, 0.085),
    "dark": (0.12, 0.06, 0.038),
}
COLOURS = {
    "black": (0.018, 0.018, 0.02),
    "white": (0.75, 0.75, 0.73),
    "grey": (0.2, 0.2, 0.21),
    "red": (0.5, 0.05, 0.05),
    "navy": (0.02, 0.035, 0.12),
    "blue": (0.05, 0.15, 0.5),
    "green": (0.05, 0.28, 0.12),
    "yellow": (0.7, 0.5, 0.06),
    "purple": (0.2, 0.06, 0.3),
    "orange": (0.7, 0.22, 0.04),
    "brown": (0.09, 0.045, 0.022),
    "blond": (0.5, 0.34, 0.13),
    "teal": (0.03, 0.26, 0.27),
    "pink": (0.65, 0.2, 0.3),
}


def palette(spec):
    """Linear colours (7, 3): skin, then one for each field in their order."""
    skin = np.array(SKIN_TONES[spec.skin])
    lips = skin * np.array([0.85, 0.5, 0.5])
    hair = COLOURS[spec.hair] if spec.hair != "bald" else skin
    brow = np.minimum(np.array(hair), skin * 0.35)
    return np.array([skin, lips, brow, hair, COLOURS[spec.shorts], COLOURS[spec.shirt], COLOURS[spec.shoes]])


def clothe(verts, heads, index, share, raw, spec):
    """Signed fields (V, 6) of a rest body."""
    fields = np.full((len(verts), 6), -1.0)
    hip_z = heads[index["upperleg01.L"]][2]
    arm = share["arm"] > 0.5
    head = share["head"] > 0.5
    fields[:, 0], fields[:, 1] = _face(verts, head, raw)
    if spec.hair != "bald":
        fields[:, 2] = _hair(verts, head, heads[index["head"]], raw, spec)
    fields[:, 3] = _shorts(verts, heads, index, arm, hip_z, spec.leg_cover)
    fields[:, 4] = _shirt(verts, heads, index, arm, hip_z, spec.sleeve)
    ankle = heads[index["foot.L"]][2]
    fields[:, 5] = ankle + 0.01 - verts[:, 2]
    return fields


def thickness(fields, spec):
    """Outward displacement (V,) m: cloth, shoes and hair."""
    inside = np.clip(fields / 0.012, 0.0, 1.0)
    return (
        spec.cloth_mm / 1000 * np.maximum(inside[:, 3], inside[:, 4])
        + 0.006 * inside[:, 5]
        + 0.014 * inside[:, 2]
    )


def _along(verts, start, end):
    """Distance (V,) m along the line from start toward end, and the line's length."""
    line = end - start
    length = np.linalg.norm(line)
    return (verts - start) @ line / length, length


def _shorts(verts, heads, index, arm, hip_z, cover):
    field = np.full(len(verts), -1.0)
    for side, sign in ((".L", 1), (".R", -1)):
        knee, ankle = (heads[index[n + side]] for n in ("lowerleg01", "foot"))
        thigh_end = (hip_z - verts[:, 2]) / (hip_z - knee[2])
        shank_end = 1 + (knee[2] - verts[:, 2]) / (knee[2] - ankle[2])
        progress = np.where(verts[:, 2] > knee[2], thigh_end, shank_end)
        own = verts[:, 0] * sign >= 0
        field[own] = ((cover - progress) * 0.43)[own]
    waist = hip_z + 0.06 - verts[:, 2]
    return np.where(arm, -1.0, np.minimum(field, waist))


def _shirt(verts, heads, index, arm, hip_z, sleeve):
    neck = heads[index["neck01"]]
    up = np.array([0.0, -0.45, 1.0]) / np.hypot(0.45, 1.0)
    field = np.minimum(-(verts - neck) @ up + 0.012, verts[:, 2] - hip_z - 0.02)
    for side, sign in ((".L", 1), (".R", -1)):
        shoulder, elbow, wrist = (heads[index[n + side]] for n in ("upperarm01", "lowerarm01", "wrist"))
        upper, upper_len = _along(verts, shoulder, elbow)
        fore, fore_len = _along(verts, elbow, wrist)
        beyond = np.where(upper < upper_len, upper / upper_len, 1 + np.maximum(fore, 0) / fore_len)
        own = arm & (verts[:, 0] * sign >= 0)
        field[own] = ((sleeve - beyond) * upper_len)[own]
    return field


def _hair(verts, head, base, raw, spec):
    names = [str(n) for n in raw["names"]]
    eyes = (raw["heads"][names.index("eye.L")] + raw["heads"][names.index("eye.R")]) / 2
    depth = verts[:, 1] - eyes[1]
    above = verts[:, 2] - eyes[2]
    crown = 0.45 * (depth - 0.02) + 0.89 * (above - 0.045)
    behind = np.minimum(depth - 0.095, above + (0.085 if spec.long_hair else 0.06))
    ear = np.hypot(depth - 0.085, above + 0.02) - 0.026
    return np.where(head, np.minimum(np.maximum(crown, behind), ear), -1.0)


def _face(verts, head, raw):
    names = [str(n) for n in raw["names"]]
    front = verts[head, 1].min() + 0.06
    face = head & (verts[:, 1] < front)
    mouth = (raw["heads"][names.index("oris05")] + raw["heads"][names.index("oris01")]) / 2
    lips = 1 - np.hypot(verts[:, 0] / 0.024, (verts[:, 2] - mouth[2]) / 0.009)
    marks = np.full(len(verts), -1.0)
    for side in (".L", ".R"):
        eye = raw["heads"][names.index("eye" + side)]
        iris = 1 - np.hypot(verts[:, 0] - eye[0], verts[:, 2] - eye[2]) / 0.009
        brow = 1 - np.hypot((verts[:, 0] - eye[0]) / 0.022, (verts[:, 2] - eye[2] - 0.022) / 0.006)
        marks = np.maximum(marks, np.maximum(iris, brow))
    return np.where(face, lips, -1.0) * 0.02, np.where(face, marks, -1.0) * 0.02
