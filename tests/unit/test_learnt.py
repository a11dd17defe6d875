"""What was learnt of an exercise is its own; a stranger gets the widest of all."""

from __future__ import annotations

from pathlib import Path

import pytest

from sample_clips.learning.learnt_file import update
from shared.errors import DefinitionError
from shared.exercise import FOLDER as EXERCISES
from shared.exercise import exercise_names, find_exercise, load_exercise
from tests.check_sets import context, track
from vision.judging.bind import bind
from vision.judging.usual_course import course_half_width
from vision.measuring.learnt import data as learning
from vision.measuring.learnt.data import has_data, load_learnt
from vision.measuring.learnt.uncertainty import clip_half_width
from vision.measuring.signals.angles import JointParams


def half_widths(exercise) -> dict[str, float]:
    """Every half-width that the exercise's signals, phases and turns get, corrections learnt or not."""
    learnt, out = load_learnt(exercise.name), {}
    seen = track("side", context("leg-curl").track.time_s)
    for name, (_, params) in bind(exercise).signals.items():
        kind = exercise.signals[name].kind
        for unit in ("deg", "trunk_fraction"):
            out[f"{name} {unit}"] = clip_half_width(kind, params, exercise, seen, unit, None)
            out[f"{name} {unit} course"] = course_half_width(learnt.change.get(kind), seen, unit)
    out["range"] = learnt.range_percent
    return out | {"duration": learnt.duration_s, "turn": learnt.turn_ratio}


@pytest.mark.parametrize("name", exercise_names())
def test_a_shipped_exercise_under_another_name_is_nowhere_surer(name: str, tmp_path: Path) -> None:
    text = (EXERCISES / f"{name}.toml").read_text().replace(f'name = "{name}"', 'name = "of-my-own"')
    copy = tmp_path / "of-my-own.toml"
    copy.write_text(text)
    own, stranger = half_widths(find_exercise(name)), half_widths(load_exercise(copy))
    assert has_data(name) and not has_data("of-my-own")
    assert own.keys() == stranger.keys()
    assert not {key: (own[key], stranger[key]) for key in own if stranger[key] < own[key]}


@pytest.mark.parametrize("name", exercise_names())
def test_a_raw_drive_is_nowhere_surer_than_a_corrected_one(name: str) -> None:
    exercise, learnt = find_exercise(name), load_learnt(name)
    if exercise.drive_joint is not None:
        seen, params = (
            track("side", context("leg-curl").track.time_s),
            JointParams(joint=exercise.drive_joint),
        )
        raw = clip_half_width("joint_angle", params, exercise, seen, "deg", None)
        assert learnt.drive_deg and raw >= max(learnt.drive_deg.values())


@pytest.mark.parametrize("name", exercise_names())
def test_what_was_learnt_says_from_what(name: str) -> None:
    learnt = load_learnt(name)
    told = learnt.model_dump(exclude_defaults=True).keys() - {"learnt_on"}
    own = learning._read(learning.FOLDER / f"{name}.toml")
    assert set(own.learnt_on) == own.model_dump(exclude_defaults=True).keys() - {"learnt_on"}
    assert told >= set(own.learnt_on)


def test_a_command_changes_what_it_learnt_and_nothing_else(tmp_path: Path) -> None:
    before = learning._read(learning.FOLDER / "leg-curl.toml")
    (tmp_path / "leg-curl.toml").write_text((learning.FOLDER / "leg-curl.toml").read_text())
    update("leg-curl", "joint_deg", {"knee": 9.1}, "3 clips", tmp_path)
    after = learning._read(tmp_path / "leg-curl.toml")
    assert after.joint_deg == {"knee": 9.1} and after.learnt_on["joint_deg"] == "3 clips"
    assert after.change == before.change and after.duration_s == before.duration_s


def test_a_file_with_an_unknown_table_is_refused(tmp_path: Path, monkeypatch) -> None:
    (tmp_path / "odd.toml").write_text("duration_s = 0.2\nturn_ratio = 1\nlearnt_on = {}\nspeed = 3\n")
    monkeypatch.setattr(learning, "FOLDER", tmp_path)
    learning._widest.cache_clear(), load_learnt.cache_clear()
    with pytest.raises(DefinitionError, match="speed: is not a known key"):
        load_learnt("odd")
    learning._widest.cache_clear(), load_learnt.cache_clear()
