"""The landmark models in the repository are the ones their README describes."""

from __future__ import annotations

import hashlib

import pytest

from vision.seeing.pose_mediapipe import DEFAULT_MODEL, SURVEY_MODEL


@pytest.mark.parametrize("model", [DEFAULT_MODEL, SURVEY_MODEL], ids=lambda path: path.stem)
def test_the_model_file_has_the_hash_its_readme_states(model):
    readme = (model.parent / "README.md").read_text()
    stated = readme[readme.index(model.name) :]
    assert hashlib.sha256(model.read_bytes()).hexdigest() in stated[: stated.index("origin")]
