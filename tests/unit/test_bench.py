"""The bench fails on a missed target, tolerates what is known, and takes intervals over bodies."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sample_clips.measure import true_value
from shared.exercise import find_exercise
from tests.bench import __main__ as command
from tests.bench.table import Figure, as_json, as_text, figures, over_bodies
from tests.bench.targets import Miss, missed, read_misses, target_of
from vision.measuring.machine.shown import with_marks

KNOWN = Path(command.__file__).with_name("known.toml")


def count_rows(errors: dict[float, list[int]]) -> list[dict[str, Any]]:
    """Rows of counts that are off by so much, by body."""
    return [
        {
            "kind": "count",
            "error": error,
            "body": body,
            "clip": f"{body}-{i}",
            "conditions": [],
            "exercise": "x",
        }
        for body, of_body in errors.items()
        for i, error in enumerate(of_body)
    ]


@pytest.mark.parametrize(
    ("figure", "met"),
    [
        (Figure("repetition count exact", 0.98, 50, "share"), True),
        (Figure("repetition count exact", 0.97, 50, "share"), False),
        (Figure("shrug: clear faults found", 0.5, 4, "share"), False),
        (Figure("knee at both ends, within 15 degrees of the view, bias over clips", -1.6, 9, "deg"), False),
        (Figure("90 % intervals that hold the truth", 0.99, 9, "share"), False),
        (Figure("90 % intervals that hold the truth, leg-curl", 0.81, 9, "share"), True),
        (Figure("horizontal arm angle at both ends, flies, mean absolute error", 6.0, 9, "deg"), None),
        (Figure("fit clips refused", float("nan"), 0, "share"), None),
    ],
)
def test_only_a_figure_with_a_target_is_met_or_missed(figure: Figure, met: bool | None) -> None:
    assert figure.met is met
    told = as_text([figure]).splitlines()[2:]
    assert [line.rsplit("|", 2)[1].strip() for line in told] == [
        {True: "yes", False: "no", None: ""}[met]
    ] * (figure.n > 0)


def test_what_differs_from_body_to_body_is_as_unsure_as_six_bodies_are() -> None:
    """A thousand repetitions each, of which one body's all fail: as sure as of six, not of six thousand."""
    bodies = np.repeat(np.arange(6), 1000)
    low, high = over_bodies((bodies > 0).astype(float).tolist(), bodies.tolist())
    assert low is not None and high is not None
    assert low < 0.6 and high == pytest.approx(1.0)
    mixed = (np.arange(6000) % 6 > 0).astype(float)
    low, high = over_bodies(mixed.tolist(), bodies.tolist())
    assert low is not None and high is not None and high - low < 0.01


@pytest.mark.parametrize("bodies", [[1, 1, 2, 2], [1, 2, 3, 4]])
def test_too_few_bodies_or_none_that_differs_tell_no_interval(bodies: list[int]) -> None:
    assert over_bodies([1.0, 1.0, 1.0, 1.0], bodies) == (None, None)


def test_counts_become_figures_with_their_interval() -> None:
    found = {f.name: f for f in figures(count_rows({160.0: [0, 0], 170.0: [0, 1], 180.0: [0, 0]}))}
    exact = found["repetition count exact"]
    assert (exact.n, exact.met) == (6, False) and exact.value == pytest.approx(5 / 6)
    assert exact.low is not None and exact.low < exact.value < 1.0
    assert found["repetition count within 1"].met
    assert {entry["name"] for entry in as_json(list(found.values()))} == {
        "repetition count exact", "repetition count within 1"
    }  # fmt: skip


def test_a_known_miss_is_told_with_its_reason_and_fails_again_once_it_gets_worse() -> None:
    known = {"repetition count exact": Miss("repetition count exact", 0.9, "reaching for the handles")}
    new, old = missed({"repetition count exact": 0.92, "no target at all": 5.0}, known)
    assert new == [] and old == ["repetition count exact: 0.92, known: reaching for the handles"]
    new, old = missed({"repetition count exact": 0.89}, known)
    assert new == ["repetition count exact: 0.89, target at least 0.98"] and old == []
    new, old = missed({"repetition count exact": 1.0}, known)
    assert new == [] and "no longer missed" in old[0]
    assert missed({"fit clips refused": 0.05}, {})[0] and not missed({"fit clips refused": 0.01}, {})[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('figure = "fit clips refused"\nworst = 0.1', "needs figure, worst and reason"),
        ('figure = "fit clips refused"\nworst = 0.1\nreason = " "', "needs figure, worst and reason"),
        ('figure = "fit clip"\nworst = 0.1\nreason = "why"', "has no target that could be missed"),
    ],
)
def test_a_list_of_known_misses_that_is_not_whole_is_refused(tmp_path: Path, text: str, said: str) -> None:
    file = tmp_path / "known.toml"
    file.write_text(f"[[miss]]\n{text}\n", encoding="utf-8")
    with pytest.raises(SystemExit, match=said):
        read_misses(file)


def test_every_known_miss_misses_its_target() -> None:
    for miss in read_misses(KNOWN).values():
        target = target_of(miss.figure)
        assert target is not None and not target.met(miss.worst), miss.figure


@pytest.mark.parametrize(
    ("errors", "tolerate", "code"),
    [([0, 0], False, 0), ([0, 1], False, 1), ([0, 1], True, 0), (None, False, 1)],
)
def test_the_bench_ends_with_one_where_a_target_is_missed(
    errors: list[int] | None, tolerate: bool, code: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "known.toml"
    file.write_text(
        '[[miss]]\nfigure = "repetition count exact"\nworst = 0.5\nreason = "why"\n', encoding="utf-8"
    )
    rows = count_rows({160.0: errors or []})
    monkeypatch.setattr(command, "bench_clips", lambda part, short: [Path("clip.mp4")] if errors else [])
    monkeypatch.setattr(command, "measured", lambda clips, chosen: rows)
    line = ["--json", str(tmp_path / "out.json"), *(["--tolerate", str(file)] if tolerate else [])]
    assert command.main(line) == code
    if errors:
        assert json.loads((tmp_path / "out.json").read_text(encoding="utf-8"))["figures"][0]["n"] == 2


def test_a_pause_is_held_against_the_pause_and_a_marked_stack_against_where_the_load_lay() -> None:
    """Whoever waits with the load just off the stack pauses; nothing rests."""
    exercise = find_exercise("leg-curl")
    row = {"rest_s": 1.2, "measures": {"stack_rest_s": 0.0}}
    told = {
        name: true_value(one.check("stack-rest"), row, "leg-curl", 170.0)
        for name, one in (("limbs", exercise), ("mark", with_marks(exercise, {"stack"})))
    }
    assert told == {"limbs": 1.2, "mark": 0.0}
    assert true_value(exercise.check("stack-rest"), {**row, "rest_s": None}, "leg-curl", 170.0) is None
