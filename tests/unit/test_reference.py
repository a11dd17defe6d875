"""A later set against an approved one: drifts that are there are named, and no others."""

from __future__ import annotations

import json
import re
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.reading.yardstick_option import yardsticks
from shared.errors import DefinitionError
from shared.exercise import find_exercise
from shared.member import Member, Own
from shared.report import SetReport
from tests.stick_sets import judged, knee_motion
from vision.judging.approved import Reference, load_reference
from vision.judging.options import Options
from vision.judging.reference import warp_distance
from vision.telling.analysis import Analysis
from vision.telling.tables import signals_csv
from vision.telling.yardstick import NO_DRIFT

EXTENSION = find_exercise("leg-extension")


def _saved(analysis: Analysis, folder: Path, signals: bool = True) -> Path:
    path = folder / "report.json"
    path.write_text(analysis.report.to_json(), encoding="utf-8")
    if signals:
        (folder / "signals.csv").write_text(signals_csv(analysis), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def approved(tmp_path_factory: pytest.TempPathFactory) -> Reference:
    return load_reference(_saved(judged(knee_motion()), tmp_path_factory.mktemp("approved")), EXTENSION)


def _against(reference: Reference, *args: object, **more: object) -> SetReport:
    return judged(*args, options=Options(reference=reference), **more).report  # type: ignore[arg-type]


def _drifts(report: SetReport) -> set[str]:
    assert report.reference is not None
    return {drift.what for drift in report.reference.drifts}


def _sticking() -> np.ndarray:
    """The same two ends and times, but each lift sags back half-way before it goes on."""
    knee = knee_motion(lift_s=2.4)
    share = (knee - 95.0) / 65.0
    rising = np.gradient(share) > 0
    return np.asarray(knee - 65.0 * 0.5 * np.exp(-(((share - 0.62) / 0.1) ** 2)) * rising)


SHORT_DOWN = {"range", "load-down-end"}
CASES = [
    ("the same set", knee_motion(), -8.0, set()),
    ("two more repetitions", knee_motion(10), -8.0, set()),
    ("within what can be measured", knee_motion(low=96.5, range_deg=62.0, lift_s=1.75), -8.0, set()),
    ("shorter at the lift end", knee_motion(range_deg=50.0), -8.0, {"range", "lift-end"}),
    (
        "shorter at the load-down end",
        knee_motion(low=108.0, range_deg=52.0),
        -8.0,
        {"range", "load-down-end"},
    ),
    ("a quicker lift", knee_motion(lift_s=1.0), -8.0, {"lift"}),
    ("a quicker lower", knee_motion(lower_s=1.1), -8.0, {"lower"}),
    ("a trunk further forward", knee_motion(), 12.0, {"trunk-start"}),
    ("a trunk that moves along", knee_motion(), -8.0 + 0.2 * (knee_motion() - 95.0), {"trunk-move"}),
]


@pytest.mark.parametrize(("knee", "lean", "drifts"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_a_drift_is_named_when_it_is_there(approved: Reference, knee, lean, drifts) -> None:
    report = _against(approved, knee, lean=lean)
    assert _drifts(report) == drifts
    assert len([n for n in report.notices if n.startswith("Not as in the approved set")]) == len(drifts)
    assert (NO_DRIFT in report.quality.notes) == (not drifts)


def test_a_repetition_that_sags_half_way_has_another_shape(tmp_path: Path) -> None:
    reference = load_reference(_saved(judged(knee_motion(lift_s=2.4)), tmp_path), EXTENSION)
    assert "shape" in _drifts(_against(reference, _sticking()))
    assert _drifts(_against(reference, knee_motion(lift_s=1.6, lower_s=3.0))) == {"lift", "lower"}


def test_a_drift_is_one_plain_sentence_with_its_numbers(approved: Reference) -> None:
    report = _against(approved, knee_motion(range_deg=50.0))
    assert report.notices[0] == (
        "Not as in the approved set: range 15 degrees less, 50 degrees now and 65 then (give or take 6)."
    )
    drift = report.reference.drifts[0]
    assert (drift.then, drift.now) == pytest.approx((65.0, 50.0), abs=0.5)
    assert SetReport.from_json(report.to_json()) == report


def test_the_approved_range_decides_what_is_full(approved: Reference) -> None:
    assert approved.usual_range == pytest.approx(65.0, abs=0.5)
    long, short = knee_motion(4), knee_motion(4, range_deg=40.0)
    report = _against(approved, np.concatenate([long[:-60], short[60:]]))
    assert report.count == 4 and len(report.reps) == 8


def test_a_range_that_was_approved_from_another_view_makes_no_repetition_short(approved: Reference) -> None:
    quality = approved.report.quality.model_copy(update={"view": "front"})
    front = Reference(approved.report.model_copy(update={"quality": quality}), approved.traces)
    knee, own = knee_motion(range_deg=50.0), Member(exercises={"leg-extension": Own(usual_range=65.0)})
    assert {f.verdict for f in _against(approved, knee).findings if f.check == "short-range"} == {"flag"}
    assert {f.verdict for f in _against(front, knee).findings if f.check == "short-range"} == {"clear"}
    assert Options(reference=front, member=own).usual_range("leg-extension", "side-left") == 65.0
    assert Options(reference=approved).usual_range("leg-extension", "side-right") == approved.usual_range
    assert Options(reference=approved).usual_range("leg-extension", None) is None


def test_without_signals_the_rest_is_compared_and_said(tmp_path: Path) -> None:
    reference = load_reference(_saved(judged(knee_motion()), tmp_path, signals=False), EXTENSION)
    report = _against(reference, knee_motion(lift_s=1.0), lean=12.0)
    assert _drifts(report) == {"lift"}
    assert any("No signals.csv lies beside" in note for note in report.quality.notes)


def test_from_another_view_or_model_it_says_so(approved: Reference) -> None:
    quality = approved.report.quality.model_copy(update={"view": "front"})
    changes = {"quality": quality, "versions": {"model": "another"}}
    other = Reference(approved.report.model_copy(update=changes), approved.traces)
    report = _against(other, knee_motion(range_deg=50.0, lift_s=1.0))
    assert _drifts(report) == {"lift"}
    assert any("another view" in n for n in report.quality.notes)
    assert any("another landmark model" in n for n in report.quality.notes)


def _broken(**changes: object) -> str:
    data = json.loads(judged(knee_motion()).report.to_json())
    return json.dumps({**data, **changes})


BAD = [
    ("", "give the report.json of an approved set"),
    ("{}", "is missing; give the report.json"),
    (_broken(exercise="leg-curl"), "exercise: is of 'leg-curl', and this set is 'leg-extension'"),
    (_broken(reps=[]), "not fit to judge or has no full repetition"),
    (_broken(quality={"usable": False, "view": None}), "not fit to judge"),
]


@pytest.mark.parametrize(("text", "said"), BAD, ids=[b[1][:30] for b in BAD])
def test_what_is_no_approved_set_is_refused(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "report.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DefinitionError, match=re.escape(said)) as error:
        load_reference(path, EXTENSION)
    assert error.value.exit_code == 2 and "\n" not in str(error.value)


TABLES = [
    "",
    "time_s,knee_deg\n1,x\n",
    "knee_deg\n1\n",
    "time_s,knee_deg\n1\n",
    "time_s\n",
    'time_s,"knee\n1,2\n',
]


@pytest.mark.parametrize("table", TABLES)
def test_a_damaged_table_is_named(tmp_path: Path, table: str) -> None:
    path = _saved(judged(knee_motion()), tmp_path)
    (tmp_path / "signals.csv").write_text(table, encoding="utf-8")
    with pytest.raises(DefinitionError, match=r"signals\.csv: is not the table"):
        load_reference(path, EXTENSION)


def test_a_folder_or_a_missing_file_is_named(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "none.json"):
        with pytest.raises(DefinitionError, match="cannot be read"):
            load_reference(path, EXTENSION)


def test_a_members_file_may_name_the_approved_set_beside_it(tmp_path: Path) -> None:
    own, folder = tmp_path / "own.toml", tmp_path / "approved"
    folder.mkdir()
    report = _saved(judged(knee_motion()), folder)
    own.write_text('[exercises.leg-extension]\nreference = "approved/report.json"\n', encoding="utf-8")
    for arguments in ((own, None), (None, report)):
        member, reference = yardsticks(EXTENSION, *arguments)
        assert (member is None) == (arguments[0] is None)
        assert reference is not None and set(reference.traces) >= {"knee_deg", "trunk_deg"}
    assert yardsticks(EXTENSION, None, None) == (None, None)


paths = st.lists(st.floats(0, 1), min_size=4, max_size=4).map(np.array)


@given(a=paths, b=paths)
@settings(max_examples=60, deadline=None)
def test_warping_finds_the_cheapest_alignment(a: np.ndarray, b: np.ndarray) -> None:
    found = warp_distance(a, b, 2)
    cheapest = _cheapest(a, b, 2)
    assert any(found == pytest.approx(np.sqrt(cheapest / steps), abs=1e-9) for steps in range(4, 8))
    assert warp_distance(a, a, 2) == 0.0
    assert warp_distance(a, b, 0) == pytest.approx(float(np.sqrt(np.mean((a - b) ** 2))))


def test_warping_lets_a_shifted_path_off_and_a_sag_not() -> None:
    clock = np.linspace(0, 1, 41)
    path, shifted = clock**2, np.clip(clock + 0.05, 0, 1) ** 2
    sag = path - 0.2 * np.exp(-(((clock - 0.6) / 0.05) ** 2))
    assert warp_distance(path, shifted, 2) < 0.01 < warp_distance(path, shifted, 0)
    assert warp_distance(path, sag, 2) > 0.03


def _cheapest(a: np.ndarray, b: np.ndarray, reach: int) -> float:
    """Every alignment tried: the smallest total of squared differences."""
    best = np.inf
    for moves in (m for n in range(3, 7) for m in product(((1, 1), (1, 0), (0, 1)), repeat=n)):
        at, total, inside = np.array([0, 0]), (a[0] - b[0]) ** 2, True
        for move in moves:
            at = at + move
            inside = inside and bool((at < 4).all()) and abs(at[0] - at[1]) <= reach
            if not inside:
                break
            total += (a[at[0]] - b[at[1]]) ** 2
        if inside and (at == 3).all():
            best = min(best, total)
    return best
