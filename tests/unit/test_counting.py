"""A set at a station is counted by a survey alone, and its card read from a still."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from app.jobs import counting
from app.jobs.contained import quiet
from app.jobs.counting import Counting
from app.page.still import card_in
from sample_clips.recordings import card_picture
from shared.errors import InternalError
from shared.exercise import find_exercise
from shared.report import ProblemPart, SetReport, Spread, TempoPart
from tests.samples import looked
from tests.unit import handmade
from vision import pipeline

DARK = ProblemPart(code="too-dark", text="The picture is too dark. Film towards the light.")


@pytest.fixture
def survey(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Looking at a clip gives the recorded survey; a close look would be written down."""
    closer: list[str] = []
    seen = replace(looked("leg-extension-faulty")[0], dense=None)

    monkeypatch.setattr(pipeline, "survey_clip", lambda source, pose, threads: seen)
    monkeypatch.setattr(pipeline, "look_closely", lambda *_, **__: closer.append("looked closely"))
    return closer


def test_the_survey_counts_and_nobody_looks_closely(survey: list[str]) -> None:
    source: Any = None
    pose: Any = None
    report = pipeline.survey_alone(source, find_exercise("leg-extension"), pose)
    assert report.count == 12 and survey == []


def test_somebody_who_bends_over_the_seat_has_no_set(
    survey: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: Any = pipeline.survey_clip(None, None, threads=2)  # type: ignore[arg-type]
    lying = seen.survey.image_px[..., [1, 0, 2]]
    bent = replace(
        seen, survey=replace(seen.survey, image_px=lying),
        subject=replace(seen.subject, poses_px=seen.subject.poses_px[..., ::-1]),
    )  # fmt: skip
    monkeypatch.setattr(pipeline, "survey_clip", lambda source, pose, threads: bent)
    nothing: Any = None
    assert pipeline.survey_alone(nothing, find_exercise("leg-extension"), nothing) is None
    assert not _count(None, monkeypatch).is_set


def _count(report: SetReport | None, monkeypatch: pytest.MonkeyPatch) -> Counting:
    monkeypatch.setattr(pipeline, "survey_alone", lambda *_: report)
    monkeypatch.setattr("vision.seeing.clip.open_clip", lambda clip: None)
    return counting.count(Path("set.mp4"), "leg-extension", quiet)


def test_a_fit_clip_gives_count_and_tempo_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    tempo = TempoPart(lift_s=_spread(1.62), lower_s=_spread(1.86), sentence="")
    report = handmade.analysis().report.model_copy(update={"tempo": tempo})
    assert _count(report, monkeypatch) == Counting(12, "about 1.5 s up and 2 s down")
    assert _count(report.model_copy(update={"tempo": None}), monkeypatch) == Counting(12)


class _Waiting:
    """A process that waits for a film; or waited, if it is not alive."""

    def __init__(self, alive: bool):
        self.alive = lambda: alive

    def __enter__(self) -> _Waiting:
        return self

    def __exit__(self, *_: object) -> None:
        counting._READY.append("ended")  # type: ignore[arg-type]

    def ask(self, *_: object) -> Counting:
        raise InternalError("Checking this clip took too long.")


def test_a_process_that_died_while_it_waited_costs_no_set(monkeypatch: pytest.MonkeyPatch) -> None:
    waiting: list[Any] = [_Waiting(alive=False)]
    monkeypatch.setattr(counting, "_READY", waiting)
    monkeypatch.setattr(counting, "run_contained", lambda *_: Counting(5))
    assert counting.counted(Path("set.mp4"), "leg-extension") == Counting(5)
    assert waiting == ["ended"]


def test_a_film_that_takes_too_long_does_not_take_it_twice_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    waiting: list[Any] = [_Waiting(alive=True)]
    monkeypatch.setattr(counting, "_READY", waiting)
    monkeypatch.setattr(counting, "run_contained", lambda *_: pytest.fail("asked once more"))
    with pytest.raises(InternalError, match="too long"):
        counting.counted(Path("set.mp4"), "leg-extension")
    assert waiting == ["ended"]


def _spread(mean: float) -> Spread:
    return Spread(mean=mean, sd=0.1, cv_percent=6.0, trend_per_rep=0.0)


def test_an_unfit_clip_gives_its_reason_and_no_set(monkeypatch: pytest.MonkeyPatch) -> None:
    report = handmade.analysis().report
    quality = report.quality.model_copy(update={"usable": False, "problems": [DARK]})
    unfit = report.model_copy(update={"quality": quality, "count": None, "tempo": None, "unjudged": None})
    told = _count(unfit, monkeypatch)
    assert told == Counting(None, why=DARK.text) and not told.is_set


@pytest.mark.parametrize(("count", "is_set"), [(None, False), (0, False), (2, False), (3, True), (15, True)])
def test_three_full_repetitions_make_a_set(count: int | None, is_set: bool) -> None:
    assert Counting(count).is_set is is_set


@pytest.mark.parametrize("number", [1, 7, 250, None])
def test_a_card_is_read_from_a_still_as_a_phone_sends_it(number: int | None) -> None:
    picture = np.full((854, 480), 120, np.uint8)
    if number is not None:
        sheet = card_picture(number, 60)
        picture[300 : 300 + len(sheet), 200 : 200 + len(sheet)] = sheet
    out = io.BytesIO()
    Image.fromarray(picture).convert("RGB").save(out, "JPEG", quality=85)
    assert card_in(out.getvalue(), quiet) == number
