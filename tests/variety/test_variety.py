"""The parts of the variety stay apart, and what it was made for holds on a few of its sets."""

from __future__ import annotations

import numpy as np
import pytest

from tests.variety.looks import SLIPS
from tests.variety.score import score
from tests.variety.sets import LIMBS, OFF_VIEW, PROFILES, analysed, make
from tests.variety.ways import WAYS, ways


def _drawn(part):
    sets = [make(seed, part) for seed in range(40)]
    return {name for made in sets for name in (made.way_in, made.between, made.way_out, *made.slips)} - {""}


def test_no_way_slip_or_law_is_in_both_parts():
    assert not _drawn("design") & _drawn("sealed")
    assert not set(PROFILES["design"]) & set(PROFILES["sealed"])
    for wider, within in ((OFF_VIEW["sealed"], OFF_VIEW["design"]), (LIMBS["sealed"], LIMBS["design"])):
        assert wider[0] < within[0] and wider[1] > within[1]


def test_each_part_has_ways_of_every_place_and_slips():
    assert len({w.name for w in WAYS}) == len(WAYS) >= 20
    for part in ("design", "sealed"):
        assert all(ways(place, part) for place in ("in", "between", "out"))
        assert any(of == part for of, _ in SLIPS.values())


def test_a_seed_always_makes_the_same_set():
    first, again = make(11), make(11)
    assert first.reps == again.reps
    assert np.array_equal(first.people.image_px, again.people.image_px)


@pytest.mark.parametrize("seed", [15, 38, 40, 44, 63, 67])
def test_what_surrounds_a_set_is_neither_counted_nor_listed(seed):
    made = make(seed, slips=False)
    found = score(made, analysed(made))
    assert not found.refused
    assert (found.off, found.outside, found.missed) == (0, 0, 0)


@pytest.mark.parametrize("seed", [107, 133, 134, 143, 157])
def test_a_limb_hidden_in_some_repetitions_costs_those_and_not_the_set(seed):
    made = make(seed)
    assert "a-limb-hidden" in made.slips
    analysis = analysed(made)
    found = score(made, analysis)
    assert not found.refused and found.off == 0
    assert any("could not be seen for part of repetition" in n for n in analysis.report.quality.notes)
    assert any(f.reason_code == "limb-hidden" for f in analysis.report.findings)


@pytest.mark.parametrize("seed", [3, 76])
def test_a_limb_read_elsewhere_for_a_moment_splits_no_repetition(seed):
    made = make(seed)
    assert "a-limb-elsewhere" in made.slips
    found = score(made, analysed(made))
    assert (found.off, found.outside, found.missed, found.false_flags) == (0, 0, 0, 0)


@pytest.mark.parametrize(("seed", "end"), [(10, "begins"), (13, "ends")])
def test_a_clip_that_cuts_a_repetition_says_so(seed, end):
    made = make(seed, slips=False)
    notes = analysed(made).report.quality.notes
    assert any(f"{end} inside a repetition" in note for note in notes)


def test_a_whole_clip_says_nothing_of_cut_repetitions():
    made = make(12, slips=False)
    assert not any(rep.cut for rep in made.reps)
    assert not any("inside a repetition" in note for note in analysed(made).report.quality.notes)
