"""Two looks are better than one: their mean is judged, and a flag must show in one and be cleared by none."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from shared.domain import Landmarks, Rep
from shared.exercise import find_exercise
from shared.keypoints import INDEX, MIRRORED
from tests.people import CLIP, landmarks, seated
from tests.stick_sets import knee_motion
from vision.judging.confirm import (
    LOOKED_AGAIN,
    NEITHER,
    NO_LOOK,
    NOT_CONFIRMED,
    OTHER_COUNT,
    LookOutcome,
    confirmed,
    which_stands,
)
from vision.judging.options import Options
from vision.measuring.learnt.data import load_learnt
from vision.measuring.track.filters import runs
from vision.measuring.track.two_looks import mean_of_looks
from vision.pipeline import judge_twice
from vision.seeing.look import Seen
from vision.seeing.subject import find_subject
from vision.telling.analysis import Analysis

KNEE = knee_motion(reps=8)
LIFTED = runs(KNEE > 130.0)
ARRAYS = [field.name for field in fields(Landmarks) if field.name != "model"]
UPRIGHT, DROPPED = -8.0, 14.0
TRUNK = [INDEX[f"{side}_{part}"] for side in ("left", "right") for part in ("hip", "shoulder")]


def people(dropped: tuple[int, ...] = (), to_deg: float = DROPPED) -> Landmarks:
    """A set of leg extensions; the chest drops in the repetitions named (from 1) while the load is up."""
    lean = np.full(len(KNEE), UPRIGHT)
    for n in dropped:
        lean[slice(*LIFTED[n - 1])] = to_deg
    return landmarks(seated(KNEE, pitch_deg=lean))


def judged(first: Landmarks, second: Landmarks | None, thorough: bool = False) -> Analysis:
    clip = replace(CLIP, duration_s=float(first.time_s[-1]), frames=len(first.frame))
    seen = Seen(
        clip=clip, luma=120.0, sharpness=0.2, survey=first, subject=find_subject(first, clip), dense=first,
        model="stick",
    )  # fmt: skip

    def again() -> Landmarks:
        if second is None:
            pytest.fail("looked again without a flag to confirm")
        return second

    return judge_twice(seen, find_exercise("leg-extension"), Options(raw=True, thorough=thorough), again)


def wide(look: Landmarks) -> Landmarks:
    """The same person seen from the front: left and right are a trunk apart."""
    image = look.image_px.copy()
    for name, k in INDEX.items():
        image[..., k, 0] += {"left": 100.0, "right": -100.0}.get(name.split("_")[0], 0.0)
    return replace(look, image_px=image)


def verdicts(analysis: Analysis, check: str = "chest-drop") -> dict[int, str]:
    return {f.rep: f.verdict for f in analysis.report.findings if f.check == check and f.verdict != "clear"}


def test_what_both_looks_show_is_a_flag():
    found = judged(people((5, 7)), people((5, 7)))
    assert verdicts(found) == {5: "flag", 7: "flag"}


def test_what_one_look_does_not_show_is_put_on_watch_without_a_prompt():
    found = judged(people((5, 7)), people((7,)))
    assert verdicts(found) == {5: "watch", 7: "flag"}
    doubted = next(f for f in found.report.findings if f.check == "chest-drop" and f.rep == 5)
    assert (doubted.prompt, doubted.reason) == (None, NOT_CONFIRMED)
    assert found.report.steps[-1] == LOOKED_AGAIN


def test_what_is_told_is_the_mean_of_both_looks():
    found = judged(people((5,), to_deg=18.0), people((5,), to_deg=10.0))
    told = next(f for f in found.report.findings if f.check == "chest-drop" and f.rep == 5)
    assert told.verdict == "flag"
    assert told.measured == pytest.approx(
        (14.0 - UPRIGHT) / load_learnt("leg-extension").change["trunk_pitch"].follows, abs=1.0
    )


def test_what_only_the_second_look_shows_is_not_raised():
    assert verdicts(judged(people((7,)), people((5, 7)))) == {7: "flag"}


def test_a_thorough_look_is_taken_twice_whatever_the_first_shows():
    assert judged(people(), people(), thorough=True).report.steps[-1] == LOOKED_AGAIN


def test_the_mean_is_taken_where_both_looks_see_the_same_person():
    first, second = people(), people()
    second.image_px[:] += 8.0
    second.image_px[100:160] = np.nan
    first.image_px[200:260] = np.nan
    second.image_px[300:] += 1000.0
    off = mean_of_looks(first, second).image_px - people().image_px
    assert np.allclose(off[50], 4.0)
    assert np.allclose(off[130], 0.0), "nobody in the second look"
    assert np.allclose(off[230], 8.0), "nobody in the first"
    assert np.allclose(off[350], 0.0), "somebody else"


def test_a_body_read_turned_round_gives_way_to_the_look_that_kept_its_seat():
    """Left for right: shoulders and hips lie on the other side, so nothing fits the usual place."""
    first, second = wide(people()), wide(people())
    first.image_px[100:300] = first.image_px[100:300][:, :, MIRRORED]
    assert np.allclose(mean_of_looks(first, second).image_px, wide(people()).image_px)
    assert np.allclose(mean_of_looks(second, first).image_px, wide(people()).image_px)


def test_a_chest_that_one_look_alone_sees_drop_is_not_read_away():
    first, second = people((5,), to_deg=40.0), people()
    lifted = slice(*LIFTED[4])
    assert np.allclose(mean_of_looks(first, second).image_px[lifted], first.image_px[lifted])


def test_looks_at_other_moments_meet_at_both():
    first, second = people(), people()
    some, others = (
        replace(look, **{n: getattr(look, n)[start::6] for n in ARRAYS})
        for look, start in ((first, 0), (replace(second, image_px=second.image_px + 6.0), 3))
    )
    mean = mean_of_looks(some, others)
    assert mean.frame.tolist() == sorted([*some.frame, *others.frame])
    off = mean.image_px[1:-1] - first.image_px[mean.frame][1:-1]
    assert abs(np.median(off) - 3.0) < 0.1 and np.abs(off - 3.0).max() < 4.0


def test_a_set_without_flags_is_looked_at_once():
    assert verdicts(judged(people(), None)) == {}


def test_a_second_look_that_cannot_judge_clears_nothing():
    nobody = replace(people(), image_px=np.full_like(people().image_px, np.nan))
    assert verdicts(judged(people((5,)), nobody)) == {5: "flag"}


def test_repetitions_are_matched_by_time_where_the_second_look_counts_otherwise():
    """The second look misses the first repetition: its sixth is our seventh."""
    second = people((7,))
    second.image_px[: LIFTED[0][1] + 10] = np.nan
    assert verdicts(judged(people((5, 7)), second)) == {5: "watch", 7: "flag"}


def without(look: Landmarks, *reps: int) -> Landmarks:
    """The look with the knee still in the repetitions named: the leg stays where it was before each."""
    image = look.image_px.copy()
    for n in reps:
        start, end = LIFTED[n - 1]
        image[start - 25 : end + 25] = image[start - 25]
    return replace(look, image_px=image)


def test_a_count_that_two_looks_do_not_share_is_to_be_checked():
    found = judged(people((5,)), without(people((5,)), 2))
    assert OTHER_COUNT.format(others="8") in found.report.quality.notes
    alike = judged(people((5,)), people((5,))).report.quality.notes
    assert not any(note.startswith(OTHER_COUNT[:25]) for note in alike)


def test_the_first_look_stands_where_the_mean_of_two_counts_fewer_than_each():
    """Each look misses one repetition, and the mean of a lifted and a still leg is a partial one."""
    first, second = without(people((5,)), 2), without(people((5,)), 7)
    found = judged(first, second)
    assert found.report.count == 7
    assert LOOKED_AGAIN not in found.report.steps


def beside(look: Landmarks, rows: slice) -> Landmarks:
    """The look with the whole body half a trunk beside itself."""
    image = look.image_px.copy()
    image[rows, ..., 0] += 100.0
    return replace(look, image_px=image)


def test_a_look_that_left_the_seat_is_made_good_by_another():
    """In a long rest, so that nothing is flagged: four repetitions, six seconds, four more."""
    half = knee_motion(reps=4)
    still = landmarks(seated(np.concatenate([half, np.full(180, half[-1]), half]), pitch_deg=UPRIGHT))
    steps = judged(beside(still, slice(len(half) + 15, len(half) + 165)), still).report.steps
    assert LOOKED_AGAIN in steps


@pytest.mark.parametrize("last", [3, 4], ids=["fit all the same", "unfit"])
def test_a_look_that_kept_the_seat_stands_alone_where_the_mean_of_both_does_not(last: int):
    """The trunk alone is read beside the seat: most points agree, so that the mean is taken."""
    second = people((7,))
    second.image_px[LIFTED[2][0] : LIFTED[last][1], :, TRUNK, 0] += 100.0
    found = judged(people((7,)), second)
    assert verdicts(found) == {7: "flag"}
    assert LOOKED_AGAIN not in found.report.steps


@pytest.mark.parametrize(
    ("both", "first", "alone", "stands"),
    [
        ((8, True, 0.0), (8, True, 0.0), (8, True, 0.0), "both"),
        ((8, True, 0.3), (8, True, 0.3), (8, True, 0.0), "alone"),
        ((8, True, 0.3), (8, True, 0.0), (8, True, 0.3), "first"),
        ((8, True, 0.3), (8, True, 0.3), (8, False, 0.0), "both"),
        ((8, True, 0.3), (8, True, 0.3), (4, True, 0.0), "both"),
        ((6, True, 0.0), (7, True, 0.0), (7, True, 0.0), "first"),
        ((6, True, 0.0), (7, True, 0.0), (6, True, 0.0), "both"),
        ((8, False, 0.0), (8, True, 0.0), (8, False, 0.0), "both"),
        ((0, False, 0.0), (0, False, 0.0), (5, True, 0.0), "both"),
        ((7, True, 0.0), (0, False, 0.0), (0, False, 0.0), "first"),
        ((0, False, 0.0), (0, False, 0.0), (0, False, 0.0), "both"),
    ],
)
def test_one_look_stands_where_the_mean_lost_what_it_kept(both, first, alone, stands):
    rep = Rep(1, 0.0, 1.0, 1.2, 2.2, None, 90.0, 160.0, 160.0, 90.0, 80.0, 70.0, False, 1.0)
    looks = {
        name: LookOutcome([], [rep] * count, fit, beside_seat)
        for name, (count, fit, beside_seat) in (("both", both), ("first", first), ("alone", alone))
    }
    assert which_stands(looks["both"], (looks["first"], looks["alone"])) is looks[stands]


def lowered(look: Landmarks, ankle_under_edge_px: float) -> Landmarks:
    """The look with the whole body so low in the picture that the ankle hangs out of it by so much."""
    image = look.image_px.copy()
    image[..., 1] += CLIP.height + ankle_under_edge_px - image[..., INDEX["left_ankle"], 1].max()
    return replace(look, image_px=image)


@pytest.mark.parametrize("fit_first", [True, False])
def test_what_one_look_and_the_mean_cannot_judge_is_refused(fit_first: bool):
    """One look has the feet out of the picture, and so has the mean; the other has them in it."""
    looks = lowered(people(), 25.0), lowered(people(), -15.0)
    found = judged(*(looks[::-1] if fit_first else looks), thorough=True).report
    assert [p.code for p in found.quality.problems] == ["limb-out-of-picture"]


def hidden(reps: range) -> Landmarks:
    """A look that sees no ankle from the first of these repetitions to the last (from 1)."""
    look = people()
    ankles = [INDEX[f"{side}_ankle"] for side in ("left", "right")]
    look.visibility[LIFTED[reps[0] - 1][0] - 20 : LIFTED[reps[-1] - 1][1] + 20, :, ankles] = 0.0
    return look


def test_what_neither_look_can_judge_is_not_told_by_their_mean():
    """Each misses five repetitions of eight, and both the same two."""
    found = judged(hidden(range(1, 6)), hidden(range(4, 9)), thorough=True).report
    assert [p.code for p in found.quality.problems] == ["limb-hidden"]
    assert found.steps[-1] == NO_LOOK


def test_a_set_whose_person_is_mixed_up_in_both_looks_is_refused():
    lost = beside(people(), slice(LIFTED[2][0], LIFTED[5][1]))
    report = judged(lost, lost).report
    assert [p.code for p in report.quality.problems] == ["mixed-up"]
    assert report.unjudged is None, "repetitions of who knows whom"


def test_a_second_look_that_saw_half_of_the_set_is_not_the_better_one():
    """As far as it goes it kept the seat; the first one's trunk left it for a while, and so does the mean."""
    first, second = people(), people()
    first.image_px[LIFTED[2][0] - 30 : LIFTED[2][1] + 60, :, TRUNK, 0] += 100.0
    second.image_px[LIFTED[4][0] - 20 :] = np.nan
    assert judged(first, second).report.count == 8


def test_a_body_that_moves_on_no_seat_is_not_held_against_its_usual_place():
    """Going down by three quarters of a trunk: of two looks the wrong one is nearer to where it mostly is."""
    first, second = people(), people()
    down = 150.0 * np.sin(np.pi * np.arange(300) / 300.0)[:, None, None] ** 2
    first.image_px[100:400, ..., 1] += down
    second.image_px[100:400, ..., 1] += 0.5 * down
    lowest = slice(220, 280)
    mean = mean_of_looks(first, second, seated=False)
    assert np.allclose(mean.image_px[lowest], first.image_px[lowest])


@pytest.mark.parametrize("wrong_first", [False, True])
def test_a_limb_that_one_look_has_elsewhere_for_a_while_is_told_by_the_other(wrong_first: bool):
    """The model takes a lever for the shank: the ankle glides away and back, too softly for a slip."""
    good, ankle = people(), INDEX["left_ankle"]
    rows = slice(*LIFTED[3])
    image = good.image_px.copy()
    away = 100.0 * np.sin(np.linspace(0.0, np.pi, rows.stop - rows.start)) ** 2
    image[rows, :, ankle, 0] += away[:, None]
    bad = replace(good, image_px=image)
    mean = mean_of_looks(*((bad, good) if wrong_first else (good, bad)))
    off = np.abs(mean.image_px[:, 0, ankle, 0] - good.image_px[:, 0, ankle, 0])
    assert off.max() < 20.0


@pytest.mark.parametrize("frozen_first", [False, True])
def test_a_limb_that_stays_where_it_often_is_does_not_stand_for_one_that_moves(frozen_first: bool):
    """One look misses a repetition: the shank lies where it does between two, and either may be right."""
    good = people()
    frozen = without(good, 4)
    mean = mean_of_looks(*((frozen, good) if frozen_first else (good, frozen)))
    for name in ("left_ankle", "left_heel"):
        at = INDEX[name]
        half = (good.image_px[:, 0, at, :2] + frozen.image_px[:, 0, at, :2]) / 2.0
        assert mean.image_px[:, 0, at, :2] == pytest.approx(half, abs=1.0)


@pytest.mark.parametrize(
    ("ours", "theirs", "told"),
    [
        ("flag", "cannot-tell", ("flag", None)),
        ("cannot-tell", "watch", ("flag", None)),
        ("flag", "clear", ("watch", NOT_CONFIRMED)),
        ("cannot-tell", "cannot-tell", ("watch", NEITHER)),
    ],
)
def test_a_flag_of_the_mean_is_one_where_one_look_shows_it_and_none_clears_it(ours, theirs, told):
    analysis = judged(people((5,)), people((5,)))
    chest = next(f for f in analysis.report.findings if f.check == "chest-drop" and f.rep == 5)

    def look(verdict):
        found = [chest.model_copy(update={"verdict": verdict, "reason": None})]
        return LookOutcome(found, analysis.reps.reps, fit=True, beside_seat=0.0)

    (found,) = confirmed(look("flag"), [look(ours), look(theirs)])
    assert (found.verdict, found.reason) == told
