"""The landmark model in the repository is the one its README describes."""

from __future__ import annotations

import hashlib

from vision.pose_mediapipe import DEFAULT_MODEL


def test_the_model_file_has_the_hash_its_readme_states():
    readme = (DEFAULT_MODEL.parent / "README.md").read_text()
    assert hashlib.sha256(DEFAULT_MODEL.read_bytes()).hexdigest() in readme
    assert DEFAULT_MODEL.name in readme
