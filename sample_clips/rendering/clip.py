"""Frames to an mp4: time stamps, camera shake, light, noise, blur, rotation metadata."""

from __future__ import annotations

import struct
from fractions import Fraction

import av
import numpy as np
import warp as wp

from sample_clips.rendering.kernels import finish, gamma_curve, warp_picture

TIME_BASE = 90000
NOISE_SPARE = 300_000
MATRICES = {0: None, 90: (0, 1, -1, 0), 180: (-1, 0, 0, -1), 270: (0, -1, 1, 0)}


def frame_times(duration_s, video, seed):
    """Presentation times (F,) s on the 1/90000 s clock; the first is 0."""
    count = int(duration_s * video.fps)
    ticks = np.arange(count) * TIME_BASE / video.fps
    if video.jitter:
        rng = np.random.default_rng(seed + 3)
        ticks[1:] += rng.uniform(-0.5, 0.5, count - 1) * video.jitter * TIME_BASE / video.fps
        slow = rng.random(count) < 0.03 * video.jitter
        ticks += np.cumsum(slow) * TIME_BASE / video.fps
    return np.round(ticks).astype(np.int64) / TIME_BASE


class Shake:
    """Hand-held motion: small turns of the camera (rad) as sums of slow sines."""

    def __init__(self, degrees, seed):
        rng = np.random.default_rng(seed + 5)
        self.size = np.radians(degrees)
        self.rate, self.phase = rng.uniform(0.25, 2.2, (3, 4)), rng.uniform(0, 2 * np.pi, (3, 4))

    def at(self, t):
        """roll, pitch, yaw (3,) rad at t (s)."""
        return self.size * 0.5 * np.sum(np.sin(2 * np.pi * self.rate * t + self.phase) / (0.5 + self.rate), 1)


class Finisher:
    """Linear picture (H, W, 3) on the device to 8-bit RGB."""

    def __init__(self, video, width, height, seed):
        self.video = video
        self.rng = np.random.default_rng(seed + 9)
        self.noise = wp.array(self.rng.standard_normal(3 * width * height + NOISE_SPARE).astype(np.float32))
        self.turned = wp.zeros((height, width), dtype=wp.vec3)
        self.out = wp.zeros((height, width, 3), dtype=wp.uint8)
        self.curve = gamma_curve()
        self.level = float(np.clip(video.noise, 0, 60))

    def __call__(self, frame, homography):
        """RGB (H, W, 3) uint8 of one frame; homography (3, 3) or None moves the picture."""
        if homography is not None:
            back = np.linalg.inv(homography)
            wp.launch(
                warp_picture, dim=frame.shape, inputs=[frame, wp.mat33(*back.ravel().tolist()), self.turned]
            )
            frame = self.turned
        if self.video.blur_px > 0:
            frame = wp.array(_blur(frame.numpy(), self.video.blur_px), dtype=wp.vec3)
        offset = int(self.rng.integers(NOISE_SPARE))
        wp.launch(
            finish,
            dim=frame.shape[0],
            inputs=[frame, self.curve, self.noise, offset, self.video.light, self.level, self.out],
        )
        return self.out.numpy()


def _blur(picture, sigma):
    from scipy.ndimage import gaussian_filter1d

    return gaussian_filter1d(gaussian_filter1d(picture, sigma, axis=0), sigma, axis=1)


class Writer:
    """H.264 mp4 (yuv420p, moov first) with true time stamps and optional quiet sound."""

    def __init__(self, path, width, height, video):
        self.path, self.video = path, video
        self.turns = {0: 0, 90: 1, 180: 2, 270: 3}[video.rotation_deg]
        stored = (height, width) if self.turns % 2 else (width, height)
        self.container = av.open(str(path), "w", format="mp4", options={"movflags": "faststart"})
        self.stream = self.container.add_stream("libx264", rate=Fraction(video.fps).limit_denominator(1000))
        self.stream.width, self.stream.height = stored
        self.stream.pix_fmt = "yuv420p"
        self.stream.time_base = Fraction(1, TIME_BASE)
        self.stream.codec_context.time_base = Fraction(1, TIME_BASE)
        self.stream.codec_context.thread_count = 1
        self.stream.options = {"crf": str(video.crf), "preset": "veryfast", "g": "250"}
        self.sound = self.container.add_stream("aac", rate=16000, layout="mono") if video.audio else None

    def write(self, rgb, time_s):
        """Add one upright frame (H, W, 3) at time_s."""
        stored = np.rot90(rgb, self.turns) if self.turns else rgb
        frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(stored), format="rgb24")
        frame.pts = round(time_s * TIME_BASE)
        frame.time_base = Fraction(1, TIME_BASE)
        self.container.mux(self.stream.encode(frame))

    def close(self, duration_s):
        """Flush, add the sound, write the rotation matrix."""
        self.container.mux(self.stream.encode(None))
        if self.sound is not None:
            self._hum(duration_s)
        self.container.close()
        if self.video.rotation_deg:
            set_rotation(self.path, self.video.rotation_deg)

    def _hum(self, duration_s):
        rng = np.random.default_rng(0)
        for k in range(int(duration_s * 16000 / 1024)):
            block = av.AudioFrame.from_ndarray(
                (rng.standard_normal((1, 1024)) * 0.002).astype(np.float32), "fltp", "mono"
            )
            block.sample_rate, block.pts, block.time_base = 16000, k * 1024, Fraction(1, 16000)
            self.container.mux(self.sound.encode(block))
        self.container.mux(self.sound.encode(None))


def set_rotation(path, clockwise_deg):
    """Write the display matrix of the first track: players turn the picture clockwise by it."""
    data = bytearray(path.read_bytes())
    at = data.find(b"tkhd") + 4
    version = data[at]
    at += 40 if version == 0 else 52
    a, b, c, d = MATRICES[clockwise_deg]
    one = 1 << 16
    data[at : at + 36] = struct.pack(">9i", a * one, b * one, 0, c * one, d * one, 0, 0, 0, 1 << 30)
    path.write_bytes(data)
