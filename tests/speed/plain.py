"""The plain loop that ours is held against: decode every frame, run the landmark model on each.

``python -m tests.speed.plain CLIP MODEL`` prints how many frames held a person.
"""

from __future__ import annotations

import sys

import cv2
import mediapipe
from mediapipe.tasks.python import BaseOptions, vision


def main(clip: str, model: str) -> None:
    """One process, one pass, nothing kept."""
    options = vision.PoseLandmarkerOptions(
        base_options=BaseOptions(model_asset_path=model), running_mode=vision.RunningMode.VIDEO
    )
    capture, found, last_ms = cv2.VideoCapture(clip), 0, -1
    with vision.PoseLandmarker.create_from_options(options) as landmarker:
        while True:
            ok, image = capture.read()
            if not ok:
                break
            last_ms = max(last_ms + 1, round(capture.get(cv2.CAP_PROP_POS_MSEC)))
            rgb = cv2.cvtColor(image, cv2.COLOR_BGR2RGB)
            picture = mediapipe.Image(image_format=mediapipe.ImageFormat.SRGB, data=rgb)
            found += bool(landmarker.detect_for_video(picture, last_ms).pose_landmarks)
    print(found)


if __name__ == "__main__":
    main(*sys.argv[1:3])
