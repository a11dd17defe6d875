"""A member's own limits stand in place of the definition's, and a file that makes no sense says where."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from app import cli
from shared.errors import DefinitionError
from shared.exercise import FOLDER, find_exercise, load_exercise
from shared.member import Member, read_member, with_member
from shared.own_range import TALK_FIRST
from tests.check_sets import context, found
from tests.stick_sets import judged, knee_motion
from tests.synthetic import RepTruth, SetTruth
from vision.judging.bind import bind
from vision.judging.options import Options

OWN = """
schema = "plumbset.member/1"
new = true

[exercises.leg-curl]
range = { at_least = 100 }

[exercises.leg-extension]
usual_range = 60
[exercises.leg-extension.limits]
knee-lockout = { at_most = 150 }
rep-target = { at_least = 8, at_most = 10 }

[exercises.chest-fly]
range = { at_most = 60 }
"""


def _member(tmp_path: Path, text: str, exercise: str = "leg-extension", name: str = "own.toml") -> Member:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return read_member(path, find_exercise(exercise))


def _verdicts(report, check: str) -> set[str]:
    return {f.verdict for f in report.findings if f.check == check}


def test_a_limit_of_the_members_own_decides(tmp_path: Path) -> None:
    member = _member(tmp_path, OWN)
    usual = judged(knee_motion()).report
    own = judged(knee_motion(), options=Options(member=member)).report
    assert _verdicts(usual, "knee-lockout") == {"clear"} and _verdicts(usual, "rep-target") == {"watch"}
    assert _verdicts(own, "knee-lockout") == {"flag"} and _verdicts(own, "rep-target") == {"clear"}
    assert {f.limit for f in own.findings if f.check == "knee-lockout"} == {150.0}
    assert own.member is not None and own.member.new
    assert {(p.check, p.limit, p.usual) for p in own.member.limits} == {
        ("knee-lockout", 150.0, 172.0),
        ("rep-target", (8.0, 10.0), (12.0, 15.0)),
    }
    said = "This member's own limit: knees locked out, at most 150 degrees (usually 172 degrees)."
    assert said in own.quality.notes and usual.member is None


#: A leg curl from 165 degrees; the knee bends to the named angle.
DEEP, SHALLOW = (165.0 - knee_motion(low=0.0, range_deg=r) for r in (85.0, 55.0))


@pytest.mark.parametrize(("knee", "verdict"), [(DEEP, "flag"), (SHALLOW, "clear")], ids=["deep", "shallow"])
def test_a_knee_that_must_stay_above_a_hundred_degrees(
    tmp_path: Path, knee: np.ndarray, verdict: str
) -> None:
    member = _member(tmp_path, OWN, "leg-curl")
    report = judged(knee, "leg-curl", Options(member=member)).report
    found = [f for f in report.findings if f.check == "own-range-min"]
    assert {f.verdict for f in found} == {verdict} and len(found) == report.count == 8
    prompts = {f.prompt for f in found}
    if verdict == "flag":
        said = f"Stop sooner with your knees: they bent past your limit of 100 degrees. {TALK_FIRST}"
        assert prompts == {said}
    else:
        assert prompts == {None}


def test_an_own_range_bounds_the_end_where_the_drive_is_largest(tmp_path: Path) -> None:
    member = _member(tmp_path, OWN, "chest-fly")
    fly = with_member(find_exercise("chest-fly"), member)
    spec = fly.check("own-range-max")
    assert spec.params == {"end": "load-down-end", "which": "max"} and spec.limit.at_most == 60
    bind(fly)


def test_an_own_range_takes_the_place_of_the_check_on_that_end(tmp_path: Path) -> None:
    text = "[exercises.leg-extension]\nrange = { at_least = 95, at_most = 160 }\n"
    own = with_member(find_exercise("leg-extension"), _member(tmp_path, text))
    ids = [spec.id for spec in own.checks]
    assert "knee-lockout" not in ids and {"own-range-min", "own-range-max"} <= set(ids)
    assert own.check("own-range-min").params["end"] == "load-down-end"
    bind(own)


@pytest.mark.parametrize(("exercise", "limit"), [("leg-extension", 120.0), ("chest-press", 120.0)])
def test_an_own_range_goes_by_the_angle_alone(exercise: str, limit: float) -> None:
    """Up to 118 throughout, and once to 122, where 120 was agreed: no joint is anywhere near straight."""
    own = Member.model_validate({"exercises": {exercise: {"range": {"at_most": limit}}}})
    top = SetTruth((RepTruth(),) * 8, low=limit - 67.0, range=65.0)
    ctx = context(
        exercise, truth=replace(top, reps=(*top.reps[:5], RepTruth(share=69.0 / 65.0), *top.reps[6:]))
    )
    found_there = found(replace(ctx, exercise=with_member(ctx.exercise, own, "left")), "own-range-max")
    assert [f.verdict for f in found_there] == [*["clear"] * 5, "watch", "clear", "clear"]
    assert {(f.probability, f.reason) for f in found_there} == {(None, None)}


def test_a_lockout_is_weighed_by_the_other_ends_whatever_the_members_own_limit() -> None:
    own = Member.model_validate(
        {"exercises": {"chest-press": {"limits": {"elbow-lockout": {"at_most": 165.0}}}}}
    )
    for exercise in (find_exercise("chest-press"), with_member(find_exercise("chest-press"), own)):
        ctx = replace(context("chest-press", truth=SetTruth((RepTruth(),) * 8)), exercise=exercise)
        assert all(f.probability is not None for f in found(ctx, "elbow-lockout"))


def test_other_exercises_are_left_as_they_are(tmp_path: Path) -> None:
    press = find_exercise("shoulder-press")
    assert with_member(press, _member(tmp_path, OWN)).checks == press.checks


def test_the_usual_range_decides_what_is_a_full_repetition(tmp_path: Path) -> None:
    long, short = knee_motion(4, range_deg=65.0), knee_motion(4, range_deg=40.0)
    knee = np.concatenate([long[:-60], short[60:]])
    text = "[exercises.leg-extension]\nusual_range = 65\n"
    report = judged(knee, options=Options(member=_member(tmp_path, text))).report
    assert (report.count, [r.partial for r in report.reps]) == (4, [False] * 4 + [True] * 4)
    assert report.member is not None and report.member.usual_range == 65


def test_a_set_far_under_the_usual_range_is_still_counted_and_said(tmp_path: Path) -> None:
    text = "[exercises.leg-extension]\nusual_range = 100\n"
    report = judged(knee_motion(), options=Options(member=_member(tmp_path, text))).report
    assert report.count == 8
    assert any(
        "Hardly any repetition reaches the member's usual range of 100" in n for n in report.quality.notes
    )


def test_json_says_the_same_as_toml(tmp_path: Path) -> None:
    data = {
        "new": True,
        "exercises": {"leg-curl": {"range": {"at_least": 100}}},
    }
    toml = _member(tmp_path, "new = true\n[exercises.leg-curl.range]\nat_least = 100\n")
    assert _member(tmp_path, json.dumps(data), name="own.json") == toml


def test_the_example_of_the_docs_is_valid(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "member-files.md").read_text(encoding="utf-8")
    example = page.split("```toml")[1].split("```")[0]
    member = _member(tmp_path, example, "chest-fly")
    assert member.new and set(member.exercises) == {"leg-curl", "chest-fly"}


LOCKOUT = "[exercises.leg-curl.limits.knee-lockout]\n"
BAD = [
    ("new = 3", "own.toml: new: "),
    ("speed = 3", "own.toml: speed: is not a known key"),
    ("schema = 'plumbset.exercise/1'", "own.toml: schema: "),
    ("[exercises.leg-extention]", "exercises.leg-extention: there is no such exercise (did you mean"),
    (
        "[exercises.leg-curl.limits.knee-lock]\nat_most = 3",
        "exercises.leg-curl.limits.knee-lock: leg-curl has no",
    ),
    (
        LOCKOUT + "at_least = 3",
        "knee-lockout.at_least: this check has no such side",
    ),
    ("[exercises.leg-curl.limits.knee-lockout]", "limits.knee-lockout: give at_most, at_least or both"),
    (
        LOCKOUT + "at_most = 'x'",
        "limits.knee-lockout.at_most: input should be",
    ),
    ("[exercises.leg-curl.limits.rep-target]\nat_least = 20", "rep-target: at_least, 20, must not be larger"),
    (LOCKOUT + "at_most = {cm = 3, trunk_fraction = 0.1}", "a length limit"),
    ("[exercises.leg-curl.range]\nat_least = 170\nat_most = 100", "at_least must be smaller than at_most"),
    ("[exercises.leg-curl.range]", "exercises.leg-curl.range: give at_least, at_most or both"),
    ("[exercises.leg-curl.range]\nat_least = nan", "exercises.leg-curl.range.at_least"),
    ("[exercises.leg-curl]\nusual_range = 0", "exercises.leg-curl.usual_range"),
    ("[exercises", "own.toml: is not valid TOML"),
]


@pytest.mark.parametrize(("text", "said"), BAD, ids=[b[0][:45] for b in BAD])
def test_a_file_that_makes_no_sense_names_its_key(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(DefinitionError, match=re.escape(said)) as error:
        _member(tmp_path, text)
    assert error.value.exit_code == 2 and "\n" not in str(error.value)


@pytest.mark.parametrize(("text", "said"), [("{", "is not valid JSON"), ("[" * 100_000, "is not valid JSON")])
def test_a_broken_json_file_says_so(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(DefinitionError, match=said):
        _member(tmp_path, text, name="own.json")


def test_the_command_names_a_bad_file_before_it_reads_the_clip(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "own.toml"
    bad.write_text("speed = 3\n", encoding="utf-8")
    arguments = ["check", "none.mov", "--exercise", "leg-curl", "--out", str(tmp_path / "out")]
    assert cli.run(lambda: cli.app([*arguments, "--member", str(bad)], standalone_mode=False)) == 2
    assert capsys.readouterr().err == "plumbset: own.toml: speed: is not a known key\n"
    missing = ["--member", str(tmp_path / "missing.json")]
    assert cli.run(lambda: cli.app([*arguments, *missing], standalone_mode=False)) == 2
    assert "missing.json: cannot be read" in capsys.readouterr().err


ASKED = """
schema = "plumbset.member/1"
tempo = { lift_s = 2, lower_s = 3 }
[exercises.chest-fly]
tempo = { lift_s = 1, lower_s = 1 }
[exercises.leg-curl.limits]
too-fast = { at_least = 1.5 }
"""


def test_a_tempo_that_is_asked_is_what_fast_and_slow_are_told_against(tmp_path: Path) -> None:
    member = _member(tmp_path, ASKED)
    motion = knee_motion()  # 1.6 s up and 1.8 s down: neither slow nor fast
    usual, asked = judged(motion).report, judged(motion, options=Options(member=member)).report
    assert _verdicts(usual, "too-fast") == {"clear"} and _verdicts(asked, "too-fast") == {"flag"}
    found = next(f for f in asked.findings if f.check == "too-fast")
    assert found.prompt == "Slow down: take 2 seconds up and 3 seconds down, as agreed with you."
    assert asked.tempo is not None and asked.tempo.asked_s == (2.0, 3.0)
    assert asked.tempo.sentence.endswith("even. Asked for: 2 s up and 3 s down. It was faster down.")
    assert asked.tempo.speed_word == "fast" and asked.member is not None and not asked.member.limits


def test_slower_than_asked_is_told_and_is_no_fault(tmp_path: Path) -> None:
    member = _member(tmp_path, ASKED.replace("lift_s = 2, lower_s = 3", "lift_s = 1, lower_s = 1"))
    report = judged(knee_motion(), options=Options(member=member)).report
    assert _verdicts(report, "too-fast") == {"clear"}
    assert report.tempo is not None and report.tempo.speed_word == "slow"
    assert report.tempo.sentence.endswith("It was slower both ways.")


def test_a_tempo_of_the_machine_comes_before_the_members_and_both_after_a_limit_of_their_own(
    tmp_path: Path,
) -> None:
    member = _member(tmp_path, ASKED)
    fly = with_member(find_exercise("chest-fly"), member)
    curl = with_member(find_exercise("leg-curl"), member)
    assert fly.tempo is not None and fly.tempo.lift_s == 1
    assert (fly.check("too-fast").prompt or "").startswith("Slow down: take 1 second in and 1 second back")
    assert curl.check("too-fast").limit.at_least == 1.5 and curl.check("too-fast").unit == "s"


def test_a_studio_asks_one_tempo_of_everybody_in_its_own_file_of_the_machine(tmp_path: Path) -> None:
    shipped = (FOLDER / "leg-extension.toml").read_text(encoding="utf-8")
    path = tmp_path / "leg-extension.toml"
    path.write_text(
        shipped.replace("[[views]]", "tempo = { lift_s = 2, lower_s = 3 }\n[[views]]", 1), "utf-8"
    )
    own = load_exercise(path)
    assert Options().exercise(own, None).check("too-fast").measure == "phase_share"
    mine = Options(member=_member(tmp_path, ASKED.replace("lower_s = 3", "lower_s = 4"))).exercise(own, None)
    assert mine.tempo is not None and mine.tempo.lower_s == 4
