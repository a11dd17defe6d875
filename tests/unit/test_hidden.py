"""What hangs on a lost limb cannot be told; the rest can."""

from __future__ import annotations

import pytest

from shared.domain import RepSet
from shared.exercise import find_exercise
from shared.report import FindingPart
from tests.synthetic import RepTruth, SetTruth, drive_signal
from vision.judging.bind import bind
from vision.judging.hidden import lost_notes, withheld
from vision.measuring.reps.find_reps import find_reps

PLAN = bind(find_exercise("lat-pulldown"))
LOST = {3: (("wrist", "right_wrist"),)}
DRIVE = ("right_shoulder", "right_elbow", "right_wrist")


def finding(check: str, rep: int | None, points: tuple[str, ...] = ()) -> FindingPart:
    return FindingPart(
        check=check, rep=rep, time_s=1.0, frame=30, verdict="flag", measured=1.0, uncertainty=0.1, limit=2.0,
        unit="s", prompt="Slow down.", points=list(points),
    )  # fmt: skip


def told(*findings: FindingPart, whole: tuple[FindingPart, ...] = ()) -> list[str]:
    return [f.verdict for f in withheld(findings, whole, LOST, PLAN, DRIVE)]


@pytest.mark.parametrize("check", ["too-fast", "short-range", "dropped-load"])
def test_what_is_told_by_the_drive_is_withheld_where_its_limb_was_lost(check):
    assert told(finding(check, 3)) == ["cannot-tell"]
    assert told(finding(check, 4)) == ["flag"]


def test_what_hangs_on_other_points_stays():
    trunk = ("right_hip", "right_shoulder")
    assert told(finding("lean-back", 3, trunk)) == ["flag"]
    assert told(finding("hands-push-down", 3, ("right_elbow", "right_wrist"))) == ["cannot-tell"]


def test_a_withheld_finding_gives_no_figure_and_no_prompt_but_the_reason():
    (found,) = withheld([finding("too-fast", 3)], [], LOST, PLAN, DRIVE)
    assert (found.measured, found.uncertainty, found.prompt, found.time_s) == (None, None, None, None)
    assert found.reason_code == "limb-hidden" and "the wrist" in (found.reason or "")


def test_of_the_whole_set_the_count_stands_and_the_rest_comes_from_what_was_told():
    of_told = finding("uneven-tempo", None).model_copy(update={"verdict": "clear"})
    found = withheld(
        [finding("rep-target", None), finding("uneven-tempo", None)], [of_told], LOST, PLAN, DRIVE
    )
    assert {f.check: f.verdict for f in found} == {"rep-target": "flag", "uneven-tempo": "clear"}


def set_of(partial: int = 0) -> RepSet:
    """Eight repetitions, one of which may be short."""
    shares = [0.5 if number == partial else 1.0 for number in range(1, 9)]
    reps = find_reps(drive_signal(SetTruth(tuple(RepTruth(share=share) for share in shares))), "rising")
    assert reps is not None and [rep.partial for rep in reps.reps] == [share < 0.7 for share in shares]
    return reps


def test_notes_name_the_limb_and_the_repetitions_once():
    lost = {n: (("wrist", "left_wrist"), ("wrist", "right_wrist")) for n in (3, 4, 6)}
    assert lost_notes(lost, set_of()) == [
        "The wrist could not be seen for part of repetitions 3, 4 and 6: "
        "what depends on that is not judged there."
    ]


def test_a_short_repetition_that_was_not_seen_whole_may_have_been_full():
    _, said = lost_notes(LOST, set_of(partial=3))
    assert said.startswith("Repetition 3 could not be seen whole and may have been full")
    assert len(lost_notes(LOST, set_of(partial=4))) == 1, "seen whole, it is short"
