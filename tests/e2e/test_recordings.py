"""Recordings made of the sample clips: the search from recorded surveys, and once the whole way live."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from app.command.recordings import Asked, Watcher, check_recording
from app.jobs.contained import quiet
from sample_clips.recordings import compose
from sample_clips.rendered import truth_of
from shared.domain import Landmarks
from shared.exercise import find_exercise
from shared.recording import Likely
from tests.samples import NAMES, clip_of, looked
from vision.common.poses import one_after_the_other
from vision.measuring.reps.sittings import Sitting, find_bouts, find_sittings
from vision.recording import cuts, fits

BETWEEN_S = 60.0


def later(survey: Landmarks, seconds: float) -> Landmarks:
    return replace(survey, time_s=survey.time_s + seconds)


def nobody(survey: Landmarks, seconds: float) -> Landmarks:
    """An empty seat for so long, seen twice a second."""
    count = int(2 * seconds)
    blank = {
        f.name: np.full((count, *getattr(survey, f.name).shape[1:]), np.nan)
        for f in fields(Landmarks)
        if f.name not in ("model", "frame", "time_s")
    }
    return Landmarks(np.zeros(count, np.int64), np.arange(count) / 2, model=survey.model, **blank)


def found(name: str) -> tuple[list[Likely], Landmarks, list[Sitting]]:
    """What is found where a sample clip comes twice, with an empty seat before, between and after."""
    survey, length = looked(name)[0].survey, looked(name)[0].clip.duration_s
    again = BETWEEN_S + length
    empty = nobody(survey, BETWEEN_S)
    whole = one_after_the_other(
        [empty, later(survey, BETWEEN_S), later(empty, again), later(survey, again + BETWEEN_S),
         later(empty, 2 * again)]
    )  # fmt: skip
    sittings = find_sittings(whole)
    return cuts(find_bouts(whole, sittings), 2 * again + BETWEEN_S), whole, sittings


@pytest.mark.parametrize("name", NAMES)
def test_each_set_is_found_once_and_its_cut_holds_it_with_five_seconds(name: str) -> None:
    reps, length = truth_of(clip_of(name))["reps"], looked(name)[0].clip.duration_s
    likely, _, _ = found(name)
    assert len(likely) == 2 and likely[0].sitting != likely[1].sitting
    for one, at_s in zip(likely, (BETWEEN_S, 2 * BETWEEN_S + length), strict=True):
        assert one.cut_start_s <= at_s + reps[0]["start_s"] - 5.0
        assert one.cut_end_s >= at_s + reps[-1]["end_s"] + 5.0
        assert one.cut_end_s - one.cut_start_s <= length + 20.0, "what lies between is not copied"


@pytest.mark.parametrize("name", NAMES)
def test_a_guess_never_leaves_the_machine_out(name: str) -> None:
    likely, survey, sittings = found(name)
    seen = looked(name)[0]
    told = fits(survey, sittings[likely[0].sitting], likely[0], seen.clip)
    assert not told or truth_of(clip_of(name))["exercise"] in told


@pytest.mark.long
def test_a_recording_the_whole_way(tmp_path: Path) -> None:
    parts = [
        {"empty": "leg-curl-clean", "seconds": 20},
        {"clip": "leg-curl-clean", "to_s": 24.0, "card": 7},
        {"empty": "leg-curl-clean", "seconds": 20},
        {"sits": "leg-curl-clean", "seconds": 20},
        {"empty": "leg-curl-clean", "seconds": 10},
    ]
    truth = compose(parts, tmp_path / "r.mp4")["sets"]
    asked = Asked(find_exercise("leg-curl"), {7: "Mara"})
    told = check_recording(tmp_path / "r.mp4", asked, tmp_path / "out", quiet, Watcher())
    assert [(s.who, s.count) for s in told.sets] == [("Mara", truth[0]["count"])]
    assert told.sets[0].start_s == pytest.approx(truth[0]["start_s"], abs=1.0)
    assert told.sets[0].end_s == pytest.approx(truth[0]["end_s"], abs=1.0)
