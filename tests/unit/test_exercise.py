"""Every shipped definition loads, and a faulty one is answered with file, key and what is wrong."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import get_args

import pytest

from shared.errors import DefinitionError, UsageError
from shared.exercise import FOLDER, Setting, circuit_order, exercise_names, find_exercise, load_exercise
from shared.faults import catalogue, order_of

SEVEN = {
    "leg-extension", "leg-curl", "lat-pulldown", "chest-fly", "reverse-fly", "chest-press", "shoulder-press",
}  # fmt: skip
VIEWS = {
    "leg-extension": {"side"}, "leg-curl": {"side"}, "lat-pulldown": {"side"}, "chest-press": {"side"},
    "shoulder-press": {"side", "front"}, "chest-fly": {"front", "side"},
    "reverse-fly": {"front", "rear", "side"},
}  # fmt: skip
FALLING = {"leg-curl", "lat-pulldown", "chest-fly"}
LOCKOUT_END = {
    ("leg-extension", "knee-lockout"): "lift-end",
    ("leg-curl", "knee-lockout"): "load-down-end",
    ("lat-pulldown", "elbow-lockout"): "load-down-end",
    ("chest-press", "elbow-lockout"): "lift-end",
    ("shoulder-press", "elbow-lockout"): "lift-end",
}

GOOD = """
schema = "plumbset.exercise/1"
name = "own"
title = "My own machine"
trains = "thigh"
limbs = ["knee"]
target_reps = [8, 10]
[[views]]
name = "side"
film = "From the side."
[drive]
signal = "knee"
lift = "rising"
[signals.knee]
kind = "joint_angle"
params = { joint = "knee" }
[[checks]]
id = "rep-target"
[[checks]]
id = "too-fast"
"""

DRAWN = """
[drawing]
sees = "hip, knee and foot"
head = [41, 42]
limbs = [[[42, 98], [72, 98]]]
moving = [[72, 98], [103, 90]]
"""

# what is wrong, text to replace, replacement, what the sentence must say
FAULTS = [
    (
        "a key nobody knows",
        'lift = "rising"',
        'lift = "rising"\nlifts = 1',
        r"drive\.lifts: is not a known key \(line 14\)",
    ),
    (
        "a key nobody knows of the second check",
        '"too-fast"',
        '"too-fast"\nlimti = 1',
        r"checks\.too-fast\.limti: is not a known key \(line 21\)",
    ),
    (
        "a key nobody knows in a table of a check",
        '"too-fast"',
        '"too-fast"\n[checks.source]\nkind = "published"\ncite = "one"\nyear = 1',
        r"checks\.too-fast\.source\.year: is not a known key \(line 24\)",
    ),
    (
        "a key nobody knows of a signal",
        'kind = "joint_angle"',
        'kind = "joint_angle"\nnoise = 1',
        r"signals\.knee\.noise: is not a known key \(line 16\)",
    ),
    (
        "a key nobody knows at the top",
        'trains = "thigh"',
        'trains = "thigh"\ntrain = 1',
        r"toml: train: is not a known key \(line 6\)",
    ),
    ("a place before the first", "[[views]]", "circuit_place = 0\n[[views]]", r"circuit_place: .*\(line 8\)"),
    ("a place in words", "[[views]]", 'circuit_place = "1"\n[[views]]', r"circuit_place: .*valid integer"),
    (
        "a setting no card has",
        "[[views]]",
        'settings = ["seat", "saddle"]\n[[views]]',
        r"settings\.1: input should be 'seat'.*\(line 8\)",
    ),
    ("a step of nothing", "[[views]]", 'setup = [""]\n[[views]]', r"setup\.0: .*at least 3 characters"),
    ("six steps", "[[views]]", f"setup = {['Sit.'] * 6}\n[[views]]", r"setup: .*at most 5 items.*\(line 8\)"),
    ("four cues", "[[views]]", f"cues = {['Sit.'] * 4}\n[[views]]", r"cues: .*at most 3 items"),
    (
        "a cue that fills the wall",
        "[[views]]",
        f"cues = ['{'a' * 111}']\n[[views]]",
        r"cues\.0: .*at most 110",
    ),
    ("hands that do something else", "[[views]]", 'hands = "waving"\n[[views]]', r"hands: .*'overhead'"),
    (
        "a point outside the drawing",
        "[drive]",
        DRAWN.replace("41", "141") + "[drive]",
        r"drawing\.head\.0: .*120 \(line 14\)",
    ),
    ("half a point", "[drive]", DRAWN.replace("41, ", "") + "[drive]", r"drawing\.head\.1: is missing"),
    ("a line of one point", "[drive]", DRAWN.replace("[72, 98], ", "") + "[drive]", r"drawing\.moving: "),
    (
        "a drawing without words",
        "[drive]",
        DRAWN.replace("sees", "#") + "[drive]",
        r"drawing\.sees: is missing",
    ),
    ("a missing key", 'title = "My own machine"\n', "", r"title: is missing"),
    (
        "a lift that goes nowhere",
        '"rising"',
        '"sideways"',
        r"drive\.lift: input should be 'rising' or 'falling'",
    ),
    (
        "a drive without its signal",
        'signal = "knee"',
        'signal = "nee"',
        r"no signal 'nee'.*did you mean 'knee'",
    ),
    (
        "a shrug with no neck to hold it against",
        '"too-fast"',
        '"shrug"\nsignal = "knee"',
        r"checks\.shrug\.params\.also\.0: no signal 'neck' in this file",
    ),
    (
        "an unknown fault",
        '"too-fast"',
        '"too-fats"',
        r"checks\.too-fats: no such fault.*did you mean 'too-fast'",
    ),
    (
        "what the catalogue alone says",
        '"too-fast"',
        '"too-fast"\norder = 1\ngrave = true',
        r"checks\.too-fast\.grave: is said by the catalogue.*checks\.too-fast\.order: .*leave it out here",
    ),
    (
        "a fact made of a fault",
        '"too-fast"',
        '"too-fast"\nfact = true',
        r"checks\.too-fast\.fact: is said by",
    ),
    ("a check twice", '"too-fast"', '"rep-target"', r"rep-target stands twice"),
    ("a target upside down", "[8, 10]", "[10, 8]", r"target_reps: the first number must not be larger"),
    ("a target in words", "[8, 10]", '"many"', r"target_reps: "),
    ("an id that is no word", '"too-fast"', "[1]", r"checks\.\[1\]\.id: input should be a valid string"),
    (
        "a limit without a side",
        '"too-fast"',
        '"too-fast"\nlimit = {}',
        r"checks\.too-fast\.limit: give at_most",
    ),
    (
        "a limit in words",
        '"too-fast"',
        '"too-fast"\nlimit = { at_most = "low" }',
        r"too-fast\.limit\.at_most: ",
    ),
    ("a length in one unit", '"too-fast"', '"too-fast"\nunit = "cm"', r"gives both cm and trunk_fraction"),
    (
        "a prompt with a strange name",
        '"too-fast"',
        '"too-fast"\nprompt = "At {speed}"',
        r"\{speed\} is no placeholder",
    ),
    (
        "a prompt that tells a member how unsure it is",
        '"too-fast"',
        '"too-fast"\nprompt = "Slow down ({uncertainty})."',
        r"\{uncertainty\} is no placeholder",
    ),
    (
        "a prompt whose number cannot be left out",
        '"too-fast"',
        '"too-fast"\nprompt = "Slow down: {value}."',
        r"needs \{value\} in square brackets",
    ),
    (
        "a prompt with brackets around nothing",
        '"too-fast"',
        '"too-fast"\nprompt = "Slow down[ now]."',
        r"needs \{value\} in square brackets",
    ),
    ("a prompt with half a brace", '"too-fast"', '"too-fast"\nprompt = "At {value"', r"unmatched brace"),
    ("an older schema", "exercise/1", "exercise/0", r"schema: "),
    ("no TOML at all", 'title = "', "title = ", r"is not valid TOML: .*line 4"),
]


def test_the_seven_machines_are_there() -> None:
    assert set(exercise_names()) == SEVEN


@pytest.mark.parametrize("name", sorted(SEVEN))
def test_a_shipped_definition_loads_and_is_complete(name: str) -> None:
    exercise = find_exercise(name)
    assert exercise.name == name
    assert {v.name for v in exercise.views} == VIEWS[name]
    assert (exercise.drive.lift == "falling") == (name in FALLING)
    assert exercise.needs_clearance == (name == "reverse-fly")
    assert exercise.target_reps == (12, 15)
    assert exercise.cautions


@pytest.mark.parametrize("name", sorted(SEVEN))
def test_posture_is_judged_from_the_side_only(name: str) -> None:
    exercise = find_exercise(name)
    posture = [c for c in exercise.checks if c.id in ("chest-drop", "lean-back", "hip-slide")]
    assert posture
    assert all(c.views == ("side",) for c in posture)


@pytest.mark.parametrize(("name", "check"), sorted(LOCKOUT_END))
def test_lockout_is_judged_where_the_limb_is_long(name: str, check: str) -> None:
    spec = find_exercise(name).check(check)
    assert spec.params == {"end": LOCKOUT_END[name, check], "which": "max"}
    assert spec.limit.at_most == 172.0
    assert spec.partial


#: Each row comes before the next one.
WORRY = (
    ("hands-behind", "past-body"),
    ("lean-back", "hip-slide", "creep", "hips-off-pad"),
    ("knee-lockout", "elbow-lockout"),
    ("chest-drop", "shrug", "head-drop", "arm-level", "elbow-bend", "press-height", "a check of one's own"),
    ("dropped-load",),
    ("stack-rest", "rushed-turn"),
    ("short-range", "late-fade"),
    ("too-fast", "uneven-tempo", "late-fade-tempo"),
    ("rep-target",),
)


def test_what_worries_most_is_spoken_of_first() -> None:
    orders = [{order_of(check) for check in row} for row in WORRY]
    assert all(len(row) == 1 for row in orders)
    flat = [row.pop() for row in orders]
    assert flat == sorted(set(flat)), "and the count never comes before posture"


def test_what_one_check_is_another_sight_of_is_a_fault_too() -> None:
    faults = catalogue()
    assert {other for fields in faults.values() for other in fields.get("joins", ())} <= set(faults)


def test_words_that_name_a_parameter_of_their_signal_have_its_value(tmp_path: Path) -> None:
    """Where mid-chest lies stands once, in the file of the machine."""
    shipped = (FOLDER / "chest-press.toml").read_text(encoding="utf-8")
    path = tmp_path / "own.toml"
    path.write_text(shipped.replace("below_trunk = 0.33", "below_trunk = 0.4"), encoding="utf-8")
    assert "taken 0.33 of the trunk" in find_exercise("chest-press").check("press-height").what
    assert "taken 0.4 of the trunk" in load_exercise(path).check("press-height").what
    every = [c.what for name in exercise_names() for c in find_exercise(name).checks]
    assert not [words for words in every if "{" in words]


def test_an_exercise_says_only_what_differs_on_its_machine() -> None:
    """A limit, its unit and its source stand once: in the catalogue, or where a machine has another one."""
    faults, used = catalogue(), set()
    for path in FOLDER.glob("*.toml"):
        for check in tomllib.loads(path.read_text(encoding="utf-8"))["checks"]:
            used.add(check["id"])
            fault = faults[check["id"]]
            same = {key for key, value in check.items() if key != "id" and fault.get(key) == value}
            assert not same and "unit" not in check, f"{path.name}: {check['id']}"
    assert used == set(faults)


@pytest.mark.parametrize("name", sorted(SEVEN))
def test_no_prompt_asks_for_more(name: str) -> None:
    for spec in find_exercise(name).checks:
        words = (spec.prompt or "").lower()
        for asked in ("more load", "heavier", "further", "deeper", "range", "seat", "more rep", "setting"):
            assert asked not in words, f"{spec.id} asks for {asked!r}"
    assert find_exercise(name).check("rep-target").prompt is None
    assert find_exercise(name).check("short-range").prompt is None


def test_what_a_file_leaves_out_is_the_least_that_can_be_said(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(GOOD, encoding="utf-8")
    own = load_exercise(path)
    assert own.circuit_place is own.hands is own.drawing is None
    assert own.setup == own.getting_out == own.cues == () and own.settings == get_args(Setting)


def test_fields_of_the_page_and_the_circuit_are_read(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    head = 'circuit_place = 3\nhands = "still"\nsettings = ["seat"]\nsetup = ["Seat level."]\n'
    path.write_text(GOOD.replace("[[views]]", head + "[[views]]") + DRAWN, encoding="utf-8")
    own = load_exercise(path)
    assert (own.circuit_place, own.hands, own.settings) == (3, "still", ("seat",))
    assert own.setup == ("Seat level.",) and own.drawing is not None
    assert own.drawing.head == (41, 42) and own.drawing.moving == ((72, 98), (103, 90))
    assert own.drawing.machine == ()


@pytest.mark.parametrize("name", sorted(SEVEN))
def test_a_shipped_definition_says_how_it_is_set_up_drawn_and_told_apart(name: str) -> None:
    exercise = find_exercise(name)
    assert exercise.drawing is not None and exercise.hands is not None
    assert len(exercise.setup) == 5 and exercise.getting_out and len(exercise.cues) == 3
    assert ("grip" in exercise.settings) == (exercise.drive_joint != "knee")
    assert ("lever_pin" in exercise.settings) == any(c.id == "pivot-off" for c in exercise.checks)


@pytest.mark.parametrize("name", sorted(SEVEN))
def test_whoever_moves_a_lever_is_told_to_keep_clear_and_the_load_rests_before_it_is_let_go(
    name: str,
) -> None:
    exercise = find_exercise(name)
    moving = [step for step in exercise.setup if " pin" in step]
    assert moving or "lever_pin" not in exercise.settings
    assert all("clear of" in step for step in moving)
    assert "rest" in " ".join(exercise.getting_out)


def test_the_joint_that_counts_is_none_where_no_joint_does() -> None:
    joints = {name: find_exercise(name).drive_joint for name in ("leg-curl", "chest-press", "chest-fly")}
    assert joints == {"leg-curl": "knee", "chest-press": "elbow", "chest-fly": None}


def test_the_usual_order_goes_by_place_and_then_by_title() -> None:
    one = find_exercise("leg-curl")
    given = [("b", None), ("c", 2), ("a", None), ("d", 1)]
    made = [one.model_copy(update={"title": title, "circuit_place": place}) for title, place in given]
    assert [e.title for e in circuit_order(made)] == ["d", "c", "a", "b"]


def test_a_file_that_is_called_otherwise_than_its_exercise_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shared.exercise.FOLDER", tmp_path)
    (tmp_path / "other.toml").write_text(GOOD, encoding="utf-8")
    with pytest.raises(DefinitionError, match=r"other\.toml: name: must be 'other'"):
        find_exercise("other")
    assert find_exercise(str(tmp_path / "other.toml")).name == "own"


def test_the_target_of_the_file_is_the_limit_of_its_count(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(GOOD, encoding="utf-8")
    assert load_exercise(path).check("rep-target").limit.resolved(in_cm=False) == (8, 10)


@pytest.mark.parametrize(("old", "new", "said"), [f[1:] for f in FAULTS], ids=[f[0] for f in FAULTS])
def test_a_fault_is_named_with_file_and_key(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = tmp_path / "own.toml"
    assert old in GOOD
    path.write_text(GOOD.replace(old, new), encoding="utf-8")
    with pytest.raises(DefinitionError, match=said) as caught:
        load_exercise(path)
    assert str(caught.value).startswith("own.toml: ")
    assert "\n" not in str(caught.value)


def test_all_faults_are_told_at_once(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_text(
        GOOD.replace('title = "My own machine"\n', "").replace('"rising"', '"up"'), encoding="utf-8"
    )
    with pytest.raises(DefinitionError) as caught:
        load_exercise(path)
    assert {key for key, _ in caught.value.faults} == {"title", "drive.lift"}


def test_a_missing_file_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(DefinitionError, match=r"gone\.toml: cannot be read"):
        load_exercise(tmp_path / "gone.toml")


def test_a_near_miss_is_answered_with_the_name_meant() -> None:
    with pytest.raises(UsageError, match=r"did you mean 'leg-extension'"):
        find_exercise("leg-extention")


@pytest.mark.parametrize("name", exercise_names())
def test_what_is_said_of_the_pad_fits_how_one_sits_there(name: str) -> None:
    exercise = find_exercise(name)
    said = " ".join([*(spec.prompt or "" for spec in exercise.checks), *(v.film for v in exercise.views)])
    faces_the_pad = any("Face the pad" in step for step in exercise.setup)
    assert ("back stays on the pad" if faces_the_pad else "chest stays on the pad") not in said
    assert ("back on the pad" if faces_the_pad else "chest on the pad") not in said
    assert not (faces_the_pad and "came forward" in said), "whose chest lies on a pad cannot leave it forward"
