"""Scenario files: every fault names file, key and what is wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from sample_clips.rendering import ScenarioError, load_scenario
from sample_clips.rendering.make_varied import scenario_text
from sample_clips.rendering.scenario import SETS

FOLDER = Path(__file__).parents[2] / "sample_clips"
SCENARIOS = sorted([*FOLDER.glob("scenarios/*.toml"), *FOLDER.glob("bench/*/*.toml")])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('exercise = "squat"', "exercise is 'squat', expected one of leg-extension"),
        ('exercise = "leg-curl"\n[camera]\nyaw = 3', "camera.yaw is unknown"),
        ('exercise = "leg-curl"\n[set]\nreps = "many"', "set.reps is 'many', expected int"),
        ('exercise = "leg-curl"\n[set]\nreps = 3\n[rep.4]\nlift_s = 1', "rep.4 is no repetition"),
        ('exercise = "leg-curl"\n[rep.2]\nlift_s = 0', "rep.2.lift_s is 0"),
        ('exercise = "leg-curl"\n[body]\nshirt = "plaid"', "body.shirt is 'plaid'"),
        ("exercise =", "cannot be read as TOML"),
    ],
)
def test_a_wrong_scenario_says_what_is_wrong(tmp_path, text, words):
    path = tmp_path / "wrong.toml"
    path.write_text(text)
    with pytest.raises(ScenarioError, match=r"wrong\.toml") as caught:
        load_scenario(path)
    assert words in str(caught.value)


def test_fifteen_lines_are_enough():
    scenario = load_scenario(FOLDER / "scenarios" / "leg-extension-clean.toml")
    assert len(scenario.reps) == 12
    assert scenario.camera.view == "side-left"


def test_every_committed_scenario_loads_and_is_named_as_its_file():
    wrong = {}
    for path in SCENARIOS:
        try:
            if (name := load_scenario(path).name) != path.stem:
                wrong[path.name] = name
        except ScenarioError as problem:
            wrong[path.name] = str(problem)
    assert wrong == {} and len(SCENARIOS) > 200


@pytest.mark.parametrize("exercise", SETS)
def test_a_set_drawn_at_random_can_be_rendered_and_is_always_the_same(exercise, tmp_path):
    for number in range(1, 6):
        text = scenario_text(exercise, number)
        assert text == scenario_text(exercise, number)
        path = tmp_path / "drawn.toml"
        path.write_text(text, encoding="utf-8")
        assert load_scenario(path).part == "tune", "what anybody may learn from"
