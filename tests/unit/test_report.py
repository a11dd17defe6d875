"""A clip that is not fit to judge: nothing is counted or found, what could be followed stands apart."""

from __future__ import annotations

from dataclasses import replace

import handmade
import pytest

from shared.exercise import find_exercise
from shared.report import SetReport
from tests.people import CLIP, landmarks, seated
from tests.stick_sets import knee_motion
from vision.judging import quality
from vision.judging.options import Options
from vision.pipeline import judge_seen
from vision.seeing.look import Seen
from vision.seeing.subject import find_subject


def judged(luma: float) -> SetReport:
    """Eight quick leg extensions in a picture as bright as that."""
    people = landmarks(seated(knee_motion(lift_s=0.4, lower_s=0.4)))
    clip = replace(CLIP, duration_s=float(people.time_s[-1]), frames=len(people.frame))
    seen = Seen(
        clip=clip, luma=luma, sharpness=0.2, survey=people, subject=find_subject(people, clip), dense=people,
        model="stick",
    )  # fmt: skip
    return judge_seen(seen, find_exercise("leg-extension"), Options(raw=True)).report


def test_what_is_not_fit_to_judge_is_neither_counted_nor_judged() -> None:
    fit, unfit = judged(120.0), judged(10.0)
    assert fit.count == len(fit.reps) == 8 and fit.flags() and fit.tempo is not None and fit.unjudged is None
    assert [p.code for p in unfit.quality.problems] == ["too-dark"] and not unfit.quality.usable
    assert unfit.count is None and unfit.tempo is None
    assert (unfit.reps, unfit.findings) == ([], [])
    assert unfit.unjudged is not None and unfit.unjudged.count == 8


def test_a_report_names_the_versions_of_all_that_shapes_a_number() -> None:
    named = judged(120.0).versions
    assert set(named) == {"plumbset", "model", "mediapipe", "av", "opencv-contrib-python", "numpy", "scipy"}
    assert "absent" not in named.values()


@pytest.mark.parametrize(
    ("verdict", "measured", "limit", "excess"),
    [
        ("flag", 181.0, 172.0, 9.0),
        ("watch", 168.0, 172.0, 4.0),
        ("clear", 120.0, 172.0, 0.0),
        ("flag", 8.0, (12.0, 15.0), 4.0),
        ("clear", 13.0, (12.0, 15.0), 0.0),
        ("cannot-tell", None, 172.0, 0.0),
    ],
)
def test_what_is_clear_lies_nowhere_past_its_limit(verdict, measured, limit, excess) -> None:
    finding = handmade.findings(find_exercise("leg-extension"))[1]
    changes = {"verdict": verdict, "measured": measured, "limit": limit}
    assert finding.model_copy(update=changes).excess == excess


def test_what_somebody_did_who_stands_there_is_told_of_no_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(quality, "_stands", lambda subject, track, reps: True)
    standing = judged(120.0)
    assert [p.code for p in standing.quality.problems] == [quality.STANDING]
    assert standing.unjudged is None and standing.count is None
