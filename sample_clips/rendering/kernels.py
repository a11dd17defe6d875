"""Kernels of the rasteriser, compiled for the processor: skin, project, rasterise, shade, finish.

Metres and pixels; integer pixel coordinates are pixel centres.
"""

from __future__ import annotations

import numpy as np
import warp as wp

wp.config.quiet = True
wp.init()


@wp.kernel
def skin_project(
    rest: wp.array(dtype=wp.vec3),
    rest_n: wp.array(dtype=wp.vec3),
    idx: wp.array2d(dtype=wp.int32),
    weight: wp.array2d(dtype=wp.float32),
    rot: wp.array(dtype=wp.mat33),
    shift: wp.array(dtype=wp.vec3),
    cam_rot: wp.mat33,
    cam_pos: wp.vec3,
    lens: wp.vec3,
    world: wp.array(dtype=wp.vec3),
    normal: wp.array(dtype=wp.vec3),
    screen: wp.array(dtype=wp.vec3),
):
    """Move each vertex with its bones (m) and project it: x, y (px) and 1/depth, -1 when behind."""
    i = wp.tid()
    p = wp.vec3(0.0, 0.0, 0.0)
    n = wp.vec3(0.0, 0.0, 0.0)
    for k in range(4):
        w = weight[i, k]
        if w > 0.0:
            b = idx[i, k]
            p += w * (rot[b] * rest[i] + shift[b])
            n += w * (rot[b] * rest_n[i])
    world[i] = p
    normal[i] = wp.normalize(n)
    c = cam_rot * (p - cam_pos)
    if c[2] > 0.05:
        screen[i] = wp.vec3(lens[0] * c[0] / c[2] + lens[1], lens[0] * c[1] / c[2] + lens[2], 1.0 / c[2])
    else:
        screen[i] = wp.vec3(0.0, 0.0, -1.0)


@wp.func
def edge(ax: float, ay: float, bx: float, by: float, px: float, py: float):
    """Twice the signed area of the triangle a, b, p."""
    return (bx - ax) * (py - ay) - (by - ay) * (px - ax)


@wp.kernel
def rasterise(
    faces: wp.array2d(dtype=wp.int32),
    screen: wp.array(dtype=wp.vec3),
    width: int,
    height: int,
    inv_z: wp.array2d(dtype=wp.float32),
    ids: wp.array2d(dtype=wp.int32),
):
    """One triangle into the doubled depth and number buffers; seen from behind it is dropped."""
    f = wp.tid()
    a = screen[faces[f, 0]]
    b = screen[faces[f, 1]]
    c = screen[faces[f, 2]]
    if a[2] <= 0.0 or b[2] <= 0.0 or c[2] <= 0.0:
        return
    ax = a[0] * 2.0 + 0.5
    ay = a[1] * 2.0 + 0.5
    bx = b[0] * 2.0 + 0.5
    by = b[1] * 2.0 + 0.5
    cx = c[0] * 2.0 + 0.5
    cy = c[1] * 2.0 + 0.5
    area = edge(ax, ay, bx, by, cx, cy)
    if area >= -1.0e-9:
        return
    x0 = wp.max(int(wp.ceil(wp.min(ax, wp.min(bx, cx)))), 0)
    x1 = wp.min(int(wp.floor(wp.max(ax, wp.max(bx, cx)))), width - 1)
    y0 = wp.max(int(wp.ceil(wp.min(ay, wp.min(by, cy)))), 0)
    y1 = wp.min(int(wp.floor(wp.max(ay, wp.max(by, cy)))), height - 1)
    per = 1.0 / area
    step_a = (by - cy) * per
    step_b = (cy - ay) * per
    for y in range(y0, y1 + 1):
        first_a = edge(bx, by, cx, cy, float(x0), float(y)) * per
        first_b = edge(cx, cy, ax, ay, float(x0), float(y)) * per
        for x in range(x0, x1 + 1):
            wa = first_a + float(x - x0) * step_a
            wb = first_b + float(x - x0) * step_b
            wc = 1.0 - wa - wb
            if wa >= 0.0 and wb >= 0.0 and wc >= 0.0:
                z = wa * a[2] + wb * b[2] + wc * c[2]
                if z > inv_z[y, x]:
                    inv_z[y, x] = z
                    ids[y, x] = f


@wp.func
def shade(
    f: int,
    px: float,
    py: float,
    faces: wp.array2d(dtype=wp.int32),
    screen: wp.array(dtype=wp.vec3),
    normal: wp.array(dtype=wp.vec3),
    world: wp.array(dtype=wp.vec3),
    fields: wp.array2d(dtype=wp.float32),
    material: wp.array(dtype=wp.int32),
    palette: wp.array2d(dtype=wp.vec3),
    key: wp.vec3,
):
    """Linear colour of triangle f at a pixel: albedo by its positive fields, simple light."""
    i = faces[f, 0]
    j = faces[f, 1]
    k = faces[f, 2]
    a = screen[i]
    b = screen[j]
    c = screen[k]
    area = edge(a[0], a[1], b[0], b[1], c[0], c[1])
    wa = edge(b[0], b[1], c[0], c[1], px, py) / area
    wb = edge(c[0], c[1], a[0], a[1], px, py) / area
    wc = 1.0 - wa - wb
    n = wp.normalize(wa * normal[i] + wb * normal[j] + wc * normal[k])
    m = material[f]
    colour = palette[m, 0]
    for q in range(6):
        v = wa * fields[i, q] + wb * fields[j, q] + wc * fields[k, q]
        if v > 0.0:
            colour = palette[m, q + 1]
    light = 0.42 + 0.16 * n[2] + 0.5 * wp.max(0.0, wp.dot(n, key)) + 0.08 * wp.abs(n[0])
    z = wa * world[i][2] + wb * world[j][2] + wc * world[k][2]
    light = light * wp.clamp(0.75 + 0.35 * z, 0.75, 1.0)
    return colour * light


@wp.kernel
def resolve(
    x0: int,
    y0: int,
    ids: wp.array2d(dtype=wp.int32),
    faces: wp.array2d(dtype=wp.int32),
    screen: wp.array(dtype=wp.vec3),
    normal: wp.array(dtype=wp.vec3),
    world: wp.array(dtype=wp.vec3),
    fields: wp.array2d(dtype=wp.float32),
    material: wp.array(dtype=wp.int32),
    palette: wp.array2d(dtype=wp.vec3),
    key: wp.vec3,
    back: wp.array2d(dtype=wp.vec3),
    out: wp.array2d(dtype=wp.vec3),
):
    """Average four samples of a pixel over the background."""
    r, q = wp.tid()
    y = r + y0
    x = q + x0
    total = wp.vec3(0.0, 0.0, 0.0)
    covered = 0
    last = -1
    colour = wp.vec3(0.0, 0.0, 0.0)
    for s in range(4):
        dx = s % 2
        dy = s // 2
        f = ids[2 * y + dy, 2 * x + dx]
        if f >= 0:
            covered += 1
            if f != last:
                colour = shade(
                    f,
                    float(x) + 0.5 * float(dx) - 0.25,
                    float(y) + 0.5 * float(dy) - 0.25,
                    faces,
                    screen,
                    normal,
                    world,
                    fields,
                    material,
                    palette,
                    key,
                )
                last = f
            total += colour
    out[y, x] = 0.25 * total + (1.0 - 0.25 * float(covered)) * back[y, x]


@wp.kernel
def warp_picture(src: wp.array2d(dtype=wp.vec3), h: wp.mat33, out: wp.array2d(dtype=wp.vec3)):
    """Move a picture by a homography from target to source pixels, bilinear, edges held."""
    y, x = wp.tid()
    v = h * wp.vec3(float(x), float(y), 1.0)
    rows = src.shape[0]
    cols = src.shape[1]
    u = wp.clamp(v[0] / v[2], 0.0, float(cols) - 1.001)
    w = wp.clamp(v[1] / v[2], 0.0, float(rows) - 1.001)
    i = int(u)
    j = int(w)
    a = u - float(i)
    b = w - float(j)
    out[y, x] = (1.0 - b) * ((1.0 - a) * src[j, i] + a * src[j, i + 1]) + b * (
        (1.0 - a) * src[j + 1, i] + a * src[j + 1, i + 1]
    )


@wp.kernel
def finish(
    src: wp.array2d(dtype=wp.vec3),
    curve: wp.array(dtype=wp.float32),
    noise: wp.array(dtype=wp.float32),
    offset: int,
    gain: float,
    sigma: float,
    out: wp.array3d(dtype=wp.uint8),
):
    """Linear light to 8-bit grey levels with noise."""
    y = wp.tid()
    cols = src.shape[1]
    for x in range(cols):
        colour = src[y, x]
        n = offset + (y * cols + x) * 3
        for c in range(3):
            step = wp.clamp(colour[c] * gain, 0.0, 1.0) * 8190.0
            k = int(step)
            v = curve[k] + (step - float(k)) * (curve[k + 1] - curve[k]) + sigma * noise[n + c]
            out[y, x, c] = wp.uint8(wp.clamp(v + 0.5, 0.0, 255.0))


def gamma_curve():
    """Grey level 0..255 at 8192 even steps of linear light, gamma 2.2."""
    return wp.array((255.0 * np.linspace(0, 1, 8192) ** (1 / 2.2)).astype(np.float32))
