"""The set of a clip, and what in it is none of the set."""

from __future__ import annotations

import numpy as np
import pytest

from shared.domain import Landmarks
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from shared.member import Member, Own
from tests.people import landmarks, seated
from tests.stick_sets import judge_landmarks, knee_motion
from vision.judging.options import Options
from vision.measuring.reps.find_set import _attempts
from vision.measuring.track.filters import runs

KNEE = knee_motion(reps=8)
LIFTED = runs(KNEE > 130.0)
HAND = ("wrist", "pinky", "index", "thumb")
SHANK = [INDEX[f"left_{part}"] for part in ("ankle", "heel", "foot_index")]


def count(people: Landmarks) -> int | None:
    return judge_landmarks(people, "leg-extension").report.count


def one_foot_stays(rep: int, seen: bool = True) -> Landmarks:
    """A set in which the left foot keeps its place in one repetition (from 1)."""
    points = seated(KNEE)
    start, end = LIFTED[rep - 1]
    inside = slice(start - 30, end + 30)
    points[inside, SHANK] = points[start - 30, SHANK]
    people = landmarks(points)
    people.visibility[inside, :, SHANK] = 0.95 if seen else 0.02
    return people


def test_a_movement_of_one_side_alone_is_no_repetition():
    assert count(landmarks(seated(KNEE))) == 8
    assert count(one_foot_stays(4)) == 7


def unseen(parts: tuple[str, ...], start_s: float, end_s: float) -> Landmarks:
    """A set in which the landmark model guesses these parts for a while."""
    people = landmarks(seated(KNEE))
    inside = (people.time_s >= start_s) & (people.time_s < end_s)
    people.visibility[np.ix_(inside, [0], [INDEX[f"right_{part}"] for part in parts])] = 0.02
    return people


@pytest.mark.parametrize("part", ["shoulder", "hip"])
@pytest.mark.parametrize("span_s", [(0.0, 3.0), (0.0, 10.0), (27.0, 99.0)])
def test_who_is_half_hidden_for_the_first_or_the_last_repetitions_has_not_moved_away(
    part: str, span_s: tuple[float, float]
) -> None:
    assert count(unseen((part,), *span_s)) == 8


def test_a_gap_with_room_for_a_repetition_is_no_rest_and_is_told_of() -> None:
    """Somebody passes close to the lens, while the third repetition is done."""
    people = landmarks(seated(KNEE))
    start, end = LIFTED[2]
    hidden = slice(start - 30, end + 30)
    for values in (people.image_px, people.world_m, people.visibility, people.presence):
        values[hidden] = np.nan
    analysis = judge_landmarks(people, "leg-extension")
    assert analysis.report.count == 7
    assert analysis.report.reps[1].rest_s is None
    assert not [f for f in analysis.report.findings if (f.check, f.rep) == ("stack-rest", 2)]
    (told,) = (note for note in analysis.report.quality.notes if note.startswith("Between"))
    gap_s = float(told.split(" s:")[0].split()[-1])
    assert gap_s == pytest.approx((hidden.stop - hidden.start) / 30.0, abs=0.3)
    assert "Between repetitions 2 and 3" in told and "a repetition done there is not counted" in told
    whole = judge_landmarks(landmarks(seated(KNEE)), "leg-extension").report
    assert not [note for note in whole.quality.notes if note.startswith("Between")]
    assert whole.reps[1].rest_s is not None


def test_a_movement_that_is_left_out_between_repetitions_is_told_of():
    half_up_s = LIFTED[3][0] / 30.0
    told = judge_landmarks(one_foot_stays(4), "leg-extension").report.quality.notes
    (when,) = (float(note.split()[3]) for note in told if note.startswith("A movement at "))
    assert half_up_s - 1.0 < when < half_up_s
    for first_or_none in (one_foot_stays(1), landmarks(seated(KNEE))):
        notes = judge_landmarks(first_or_none, "leg-extension").report.quality.notes
        assert not any("was left out" in note for note in notes)


def test_a_side_that_is_not_seen_says_nothing():
    assert count(one_foot_stays(4, seen=False)) == 8


def test_a_whole_set_on_one_side_is_a_set():
    """The other foot rests, and sways a little in all of the repetitions but one."""
    points = seated(KNEE)
    points[:, SHANK] = points[0, SHANK]
    for start, end in LIFTED[:3] + LIFTED[4:]:
        points[start:end, SHANK, 1] += 4.0
    assert count(landmarks(points)) == 8


def test_a_set_that_goes_on_with_one_side_is_counted_to_its_end():
    points = seated(KNEE)
    late = LIFTED[4][0] - 20
    points[late:, SHANK] = points[0, SHANK]
    assert count(landmarks(points)) == 8


def pressing(
    elbow: np.ndarray, down_deg: np.ndarray | float = 0.0, seems: np.ndarray | None = None
) -> Landmarks:
    """A chest press from the side whose elbow has these angles; the hand goes straight ahead, or down.

    seems: what the elbow seems to have instead, because it turns to the camera.
    """
    points = seated(np.full(len(elbow), 95.0))
    arm = 0.55 * 200.0
    reach = np.sqrt(2.0 * arm**2 * (1.0 - np.cos(np.radians(elbow))))
    sink = reach / 2.0 / np.tan(np.radians(elbow if seems is None else seems) / 2.0)
    turn = np.radians(np.broadcast_to(down_deg, reach.shape))
    ahead, below = (
        np.stack(way, axis=-1) for way in ((np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn)))
    )
    for side in ("left", "right"):
        shoulder = points[:, INDEX[f"{side}_shoulder"], :2]
        half = reach[:, None] / 2.0 * ahead
        points[:, INDEX[f"{side}_elbow"], :2] = shoulder + half + sink[:, None] * below
        for part in HAND:
            points[:, INDEX[f"{side}_{part}"], :2] = shoulder + 2.0 * half
    return landmarks(points)


@pytest.mark.parametrize(("reps", "range_deg", "told"), [(8, 34.0, 8), (4, 34.0, None), (4, 60.0, 4)])
def test_many_alike_repetitions_are_a_set_though_the_elbow_seems_to_bend_little(
    reps: int, range_deg: float, told: int | None
) -> None:
    """A wide grip turns the elbow to the camera; four small movements may be fidgeting."""
    elbow = knee_motion(reps=reps, low=160.0 - range_deg, range_deg=range_deg)
    assert judge_landmarks(pressing(elbow), "chest-press").report.count == told


def last_one(down_deg: float, sunk_px: float) -> int | None:
    """How many are counted of eight, the last with the arms so much lower, or the whole body."""
    elbow = knee_motion(reps=8, low=95.0, range_deg=60.0)
    inside = np.zeros(len(elbow), dtype=bool)
    inside[LIFTED[-1][0] - 30 : LIFTED[-1][1] + 30] = True
    people = pressing(elbow, np.where(inside, down_deg, 0.0))
    people.image_px[inside, ..., 1] += sunk_px
    return judge_landmarks(people, "chest-press").report.count


@pytest.mark.parametrize(
    ("min_range", "usual", "tried"),
    [
        (45.0, 80.0, [(45.0, 80.0, 0), (45.0, None, 0), (29.25, None, 5)]),
        (45.0, None, [(45.0, None, 0), (29.25, None, 5)]),
        (20.0, 60.0, [(20.0, 60.0, 0), (20.0, None, 0)]),
    ],
    ids=["a member's range", "none known", "no smaller repetition than the least"],
)
def test_a_set_is_looked_for_by_one_range_after_the_other_and_by_none_twice(min_range, usual, tried):
    spec = find_exercise("leg-extension").drive.model_copy(update={"min_range": min_range})
    assert _attempts(spec, usual) == tried


def test_a_last_repetition_with_sunken_arms_is_counted():
    """The hands leave their way, hips and shoulders do not: it is done badly, not something else."""
    assert last_one(down_deg=30.0, sunk_px=0.0) == 8
    assert last_one(down_deg=0.0, sunk_px=120.0) == 7


def pulled(wiped: tuple[int, ...]) -> int | None:
    """How many are counted of eight pulldowns whose far hand is not seen; in some (from 1) the face is wiped.

    The elbow bends as far for the face as for the chest, but the hand comes half as far.
    """
    elbow = 260.0 - knee_motion(reps=8, low=95.0, range_deg=85.0)
    bent = (165.0 - elbow) / 85.0
    forward_deg = np.full(len(elbow), 60.0)
    for rep in wiped:
        start, end = LIFTED[rep - 1]
        forward_deg[start - 30 : end + 30] = 10.0
    people = pressing(elbow, -85.0 + forward_deg * bent)
    people.visibility[:, :, [INDEX[f"left_{part}"] for part in ("elbow", *HAND)]] = 0.02
    return judge_landmarks(people, "lat-pulldown").report.count


@pytest.mark.parametrize(("wiped", "told"), [((), 8), ((4,), 7), ((2, 4, 6), 8)])
def test_a_hand_that_goes_to_the_face_between_two_pulldowns_is_no_repetition(
    wiped: tuple[int, ...], told: int
) -> None:
    """Where it does so again and again, that is how the set is done."""
    assert pulled(wiped) == told


def fourth(share: float) -> np.ndarray:
    """The elbow of eight presses, the fourth of which goes so far of its way, (T,)."""
    elbow = knee_motion(reps=8, low=95.0, range_deg=60.0)
    start, end = LIFTED[3]
    elbow[start - 30 : end + 30] = 95.0 + share * (elbow[start - 30 : end + 30] - 95.0)
    return elbow


def short_range(people: Landmarks, usual: float | None = None) -> tuple[int | None, str]:
    """How many presses are counted, and what is said of the fourth one's range; usual: the member's own."""
    member = Member(exercises={"chest-press": Own(usual_range=usual)})
    report = judge_landmarks(people, "chest-press", Options(member=member)).report
    (verdict,) = (f.verdict for f in report.findings if f.check == "short-range" and f.rep == 4)
    return report.count, verdict


def test_a_repetition_whose_hand_went_the_whole_way_is_one_though_the_elbow_seems_to_bend_little():
    """How far it went nobody can say then, so it is no flag."""
    assert short_range(pressing(fourth(1.0))) == (8, "clear")
    count, verdict = short_range(pressing(fourth(1.0), seems=fourth(0.35)))
    assert count == 8
    assert verdict in ("watch", "cannot-tell")


def test_a_repetition_whose_hand_stopped_half_way_is_short():
    assert short_range(pressing(fourth(0.5))) == (7, "flag")
    assert short_range(pressing(fourth(0.5), seems=fourth(0.4)))[0] == 7


def test_a_hands_whole_way_is_that_of_the_full_repetitions():
    """Most are short here, and their hands go as far as each other's."""
    elbow = knee_motion(reps=8, low=95.0, range_deg=60.0)
    short = slice(LIFTED[3][0] - 30, len(elbow))
    elbow[short] = 95.0 + 0.5 * (elbow[short] - 95.0)
    assert judge_landmarks(pressing(elbow), "chest-press").report.count == 3


def test_hands_of_a_set_that_is_short_of_the_members_range_go_no_further_than_it():
    """All go three quarters of it; in one the elbow seems to go less still, and three quarters it may be."""
    people = pressing(fourth(1.02), seems=fourth(0.75))
    assert short_range(people) == (8, "cannot-tell")
    assert short_range(people, usual=80.0) == (8, "watch")


def test_a_hand_that_swings_off_its_way_has_gone_no_further_on_it():
    """Half a press, with the hands 20 degrees lower at its end."""
    elbow, down_deg = fourth(0.4), np.zeros(len(KNEE))
    start, end = LIFTED[3]
    down_deg[start - 30 : end + 30] = 20.0 * (elbow[start - 30 : end + 30] - 95.0) / 24.0
    assert judge_landmarks(pressing(elbow, down_deg), "chest-press").report.count == 7


def test_a_press_that_is_short_of_a_range_that_all_are_short_of_is_not_counted():
    """The member goes 80 degrees, and today 60; one goes 51, less than seven tenths of what is usual."""
    people = pressing(fourth(51.0 / 60.0))
    assert short_range(people)[0] == 8
    assert short_range(people, usual=80.0)[0] == 7


def test_an_elbow_that_was_misread_makes_no_other_one_seem_straight():
    elbow = knee_motion(reps=5, low=95.0, range_deg=68.0)
    seems = elbow.copy()
    start, end = runs(elbow > 130.0)[2]
    seems[start - 30 : end + 30] = 95.0 + 0.35 * (elbow[start - 30 : end + 30] - 95.0)
    report = judge_landmarks(pressing(elbow, seems=seems), "chest-press").report
    assert report.count == 5
    assert {f.verdict for f in report.findings if f.check == "elbow-lockout" and f.rep != 3} == {"clear"}
