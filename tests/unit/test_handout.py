"""The hand-out: one cue, two pictures drawn alike, one target, and room for what only the trainer knows."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import cv2
import numpy as np
import pytest

from app.rules.told import recounted
from shared.exercise import exercise_names, find_exercise
from shared.report import SetReport
from tests.samples import checked, clip_of
from tests.unit import handmade
from vision.common.cautions import HANDLING, LAST_WORD, NO_ADVICE, SHORT_CAUTION, STOP_ON
from vision.common.notices import ASK_MACHINE, LOOKS_LIKE, TREMBLES
from vision.judging.checks import CHECKS
from vision.seeing.clip import open_clip
from vision.telling import handout_picture
from vision.telling.cues import best_rep
from vision.telling.handout import ASK, NOTHING, UNSTEADY, Handout, handout
from vision.telling.handout_picture import WIDTH_PX, handout_png, wrapped
from vision.telling.heads import HeadHider
from vision.telling.stills import Still, same_moment, shots, stills
from vision.telling.strokes import text_width
from vision.telling.words import NOT_CLEARED
from vision.telling.write import _stills

if TYPE_CHECKING:
    from vision.common.seams import FrameSource

LEG = find_exercise("leg-extension")
MADE = handmade.analysis().report


def _with(**verdicts: str) -> SetReport:
    """The hand-made set, its knee checks alone, some of them otherwise; the others clear."""
    knees = [f for f in MADE.findings if f.check == "knee-lockout"]
    prompt = "Stop just short of locking your knees."
    found = []
    for f in knees:
        verdict = verdicts.get(f"rep{f.rep}", "clear")
        found.append(
            f.model_copy(update={"verdict": verdict, "prompt": prompt if verdict == "flag" else None})
        )
    return MADE.model_copy(update={"findings": found})


ALL_WRONG = {f"rep{n}": "flag" for n in range(1, 14)}


@pytest.mark.parametrize(
    ("report", "said"),
    [
        (_with(rep4="flag", rep9="flag"), "Knees good in 11 of 13 reps. Next time, all 13."),
        (_with(rep4="flag", rep5="watch"), "Knees good in at least 11 of 13 reps. Next time, all 13."),
        (_with(**{f"rep{handmade.PARTIAL}": "flag"}), "Knees good in 12 of 13 reps. Next time, all 13."),
        (_with(**ALL_WRONG | {"rep2": "clear"}), "Knees good in 1 of 13 reps. Next time, 7."),
        (_with(**ALL_WRONG), "Next time: knees good in 7 of 13 reps."),
        (_with(), ""),
    ],
    ids=["two wrong", "one not sure", "a short one wrong", "one good", "all wrong", "none wrong"],
)
def test_the_target_for_next_time_counts_what_was_surely_good(report: SetReport, said: str) -> None:
    assert handout(report, LEG).target == said


def test_a_check_that_does_not_judge_short_repetitions_has_a_target_of_the_full_ones() -> None:
    report = _with(rep4="flag")
    full = [f for f in report.findings if f.rep != handmade.PARTIAL]
    page = handout(report.model_copy(update={"findings": full}), LEG)
    assert page.target == "Knees good in 11 of 12 reps. Next time, all 12."


@pytest.mark.parametrize(
    ("report", "said"),
    [
        (_with(rep4="flag", rep9="flag"), "Next time: knees good in every rep."),
        (_with(**ALL_WRONG), "Next time: knees good in more of your reps."),
    ],
    ids=["two wrong", "all wrong"],
)
def test_beside_a_trainers_own_count_the_target_has_no_numbers(report: SetReport, said: str) -> None:
    assert handout(recounted(report, 11), LEG).target == said
    assert handout(recounted(report, 12), LEG).target != said


def test_beside_a_trainers_own_count_no_share_of_it_was_wrong() -> None:
    page = handout(recounted(_with(**ALL_WRONG), 11), LEG)
    assert page.which == "Many of the 11 reps."


def test_a_check_of_a_users_own_has_a_target_too() -> None:
    own = LEG.model_copy(
        update={"checks": tuple(spec.model_copy(update={"good": None}) for spec in LEG.checks)}
    )
    assert handout(_with(rep4="flag"), own).target == "Done right in 12 of 13 reps. Next time, all 13."


@pytest.mark.parametrize("name", exercise_names())
def test_every_fault_of_a_repetition_that_a_member_hears_of_says_what_a_good_one_has(name: str) -> None:
    told = [spec for spec in find_exercise(name).checks if spec.prompt]
    without = [spec.id for spec in told if not CHECKS[spec.measure].traits.of_set and not spec.good]
    assert without == []


def test_a_good_set_is_praised_in_one_sentence() -> None:
    page = handout(_with(), LEG)
    assert (page.target, page.praise) == ("", f"Good set. Make them all like rep {_best(_with())}.")
    watched = _with(rep4="watch")
    assert handout(watched, LEG).praise == f"Rep {_best(watched)} was your best: make them all like it."


def _best(report: SetReport) -> int:
    best = best_rep(report)
    assert best is not None
    return best.number


LIKE = f"{LOOKS_LIKE} chest press, not like leg extension. If so, check the clip again as that machine."


@pytest.mark.parametrize("report", [_with(), _with(rep4="flag")], ids=["clean", "flagged"])
def test_what_may_be_another_machine_says_so_first_and_neither_coaches_nor_praises(report: SetReport) -> None:
    page = handout(report.model_copy(update={"notices": [LIKE]}), LEG)
    assert page.notice == f"{LOOKS_LIKE} chest press, not like leg extension. {ASK_MACHINE}"
    assert (page.cue, page.first, page.which) == ("", ASK, "12 full, 1 short.")
    assert (page.praise, page.target, page.more) == ("", "", "")
    assert handout(report, LEG).notice == ""


def _written(page: Handout, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the picture says, block by block."""
    said: list[str] = []
    wrap = handout_picture.wrapped

    def noted(words: str, *rest: float) -> list[str]:
        said.append(words)
        return wrap(words, *rest)

    monkeypatch.setattr(handout_picture, "wrapped", noted)
    handout_png(page, None, None)
    return [words for words in said if words]


def test_the_picture_of_what_may_be_another_machine_begins_with_that(monkeypatch: pytest.MonkeyPatch) -> None:
    page = handout(_with().model_copy(update={"notices": [LIKE]}), LEG)
    said = _written(page, monkeypatch)
    assert said[0] == page.notice and not any("Nothing stood out" in words for words in said)


def test_a_clip_of_what_may_be_another_machine_gives_no_picture_to_copy() -> None:
    analysis = handmade.analysis(notices=[LIKE])
    assert _stills(cast("FrameSource", None), analysis, None, False) == (None, None)


def test_the_picture_has_the_cautions_that_the_page_has(monkeypatch: pytest.MonkeyPatch) -> None:
    said = " ".join(_written(handout(_with(), LEG), monkeypatch))
    assert all(caution in said for caution in (LEG.cautions[0], HANDLING, STOP_ON, NO_ADVICE, LAST_WORD))
    for words in ("tell the trainer", "call for emergency help", "licensed clinicians and local rules"):
        assert words in said


def test_a_fault_of_the_whole_set_asks_for_the_whole_set() -> None:
    flag = next(f for f in _with(rep4="flag").findings if f.verdict == "flag")
    report = MADE.model_copy(update={"findings": [flag.model_copy(update={"rep": None})]})
    assert handout(report, LEG).target == "Next time: good form from the first rep to the last."


@pytest.mark.parametrize("cleared", [True, False])
def test_what_is_for_the_trainer_alone_does_not_stand_on_the_hand_out(cleared: bool) -> None:
    flag = next(f for f in _with(rep4="flag").findings if f.verdict == "flag").model_copy(
        update={"prompt": None}
    )
    changes = {"findings": [flag] if cleared else [], "notices": [] if cleared else [NOT_CLEARED]}
    page = handout(MADE.model_copy(update=changes), LEG)
    assert (page.which, page.cue, page.seen) == ("12 full, 1 short.", "", ASK)
    assert (page.target, page.praise) == ("", "")


def test_the_cue_comes_first_then_its_repetitions_and_what_was_seen() -> None:
    chest = [f for f in MADE.findings if f.check == "chest-drop"]
    page = handout(MADE.model_copy(update={"findings": chest}), LEG)
    assert (page.first, page.which) == ("Keep your chest tall.", "Rep 11 of 13 (12 full, 1 short).")
    assert page.more == "You came forward."
    assert handout(_with(), LEG).first == NOTHING


def test_who_was_filmed_unsteadily_is_not_told_that_all_is_well() -> None:
    quality = MADE.quality.model_copy(update={"notes": [TREMBLES]})
    assert handout(_with().model_copy(update={"quality": quality}), LEG).seen == UNSTEADY


def test_what_is_known_of_load_and_settings_stands_there_and_the_rest_is_to_be_written_in() -> None:
    facts = dict(handout(MADE, LEG, [("Load", "30 kg"), ("Seat", "4"), ("Side", "left")]).facts)
    assert (facts["Load"], facts["Seat"], facts["Side"]) == ("30 kg", "4", "left")
    assert facts["Name"] == facts["Date"] == facts["Back pad"] == "" and "Grip" not in facts


def test_the_good_still_shows_the_same_moment_of_the_best_repetition_cut_alike() -> None:
    analysis = checked("leg-extension-faulty")[0]
    good, fault = stills(open_clip(clip_of("leg-extension-faulty")), analysis)
    assert good is not None and fault is not None
    assert fault.rep in (4, 9) and good.rep not in {f.rep for f in analysis.report.flags()}
    assert good.image.shape == fault.image.shape
    assert (good.image != fault.image).any()


def test_no_head_shows_on_the_hand_out(monkeypatch: pytest.MonkeyPatch) -> None:
    hidden: list[float] = []
    apply = HeadHider.apply

    def counted(self: HeadHider, image, time_s, machine=None):
        hidden.append(time_s)
        return apply(self, image, time_s, machine)

    monkeypatch.setattr(HeadHider, "apply", counted)
    analysis, clip = checked("leg-extension-faulty")[0], clip_of("leg-extension-faulty")
    stills(open_clip(clip), analysis)
    assert len(hidden) == 2
    stills(open_clip(clip), analysis, show_faces=True)
    assert len(hidden) == 2


def test_a_clean_set_has_its_best_repetition_and_nothing_to_change() -> None:
    good, fault = shots(checked("leg-extension-clean")[0])
    assert good is not None and fault is None


def test_the_same_moment_lies_as_far_on_in_the_same_phase() -> None:
    one, other, *_ = handmade.reps()
    moments = [one.start_s, (one.start_s + one.turn_s) / 2, one.lower_start_s, one.end_s]
    assert [same_moment(t, one, other) for t in moments] == pytest.approx(
        [other.start_s, (other.start_s + other.turn_s) / 2, other.lower_start_s, other.end_s]
    )


def _read(png: bytes) -> np.ndarray:
    return cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_COLOR)[..., ::-1]


def test_the_picture_for_a_phone_has_both_stills_equally_large() -> None:
    colours = ((10, 10, 200), (200, 10, 10))
    good, fault = (Still(np.full((300, 200, 3), colour, np.uint8), 4) for colour in colours)
    page = handout(MADE, LEG, [("Load", "30 kg")])
    image = _read(handout_png(page, good, fault))
    assert image.shape[1] == WIDTH_PX and image.shape[0] > 1000
    shown = [int((np.abs(image.astype(int) - colour) < 6).all(axis=2).sum()) for colour in colours]
    assert shown[0] == pytest.approx(shown[1], rel=0.02) and shown[0] > 100_000
    shorter = _read(handout_png(page, None, None))
    assert shorter.shape[0] < image.shape[0] - 400


@pytest.mark.parametrize("size", [27, 68])
def test_words_are_broken_into_lines_that_fit(size: int) -> None:
    lines = wrapped(SHORT_CAUTION, size, 900)
    assert " ".join(lines) == SHORT_CAUTION and len(lines) > 1
    assert all(text_width(line, size) <= 900 for line in lines)
    assert wrapped("", size, 900) == []
