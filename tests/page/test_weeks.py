"""Tempo over the weeks: the sentence that answers, the drawing by true dates, two sets beside each other."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from app.page.tempo import SetTempo, against_usual, over_weeks, phase_rows, set_tempo
from app.page.weeks import weeks_drawing
from shared.exercise import Motion
from tests.store.made import report
from vision.measuring.reps.tempo import detrended_cv

TODAY = date(2026, 12, 1)


def _tempo(seconds: float, n: int = 1, last: float = 0.0) -> SetTempo:
    reps = (seconds,) * 8 + (seconds + last,) * 4
    half = tuple(s / 2 for s in reps)
    return SetTempo(n, date(2026, 3, n), 30.0, "kg", half, half, reps, 70.0, n % 2)


@pytest.mark.parametrize(
    ("one", "others", "said"),
    [
        (_tempo(4.0), [], "first set to compare with"),
        (_tempo(4.0, 2), [_tempo(4.1)], "About 4.0 s a rep, even. That is the usual pace."),
        (_tempo(5.0, 2), [_tempo(4.0)], "slower than the usual 4.0 s"),
        (_tempo(3.0, 2), [_tempo(4.0)], "quicker than the usual 4.0 s"),
        (_tempo(4.0, 2, last=1.0), [_tempo(4.0)], "even, slower towards the end"),
    ],
)
def test_tempo_is_one_sentence_against_the_usual(one: SetTempo, others: list[SetTempo], said: str) -> None:
    assert said in against_usual(one, others)


def test_the_spread_is_the_figure_of_the_report_and_leaves_a_steady_slowing_out() -> None:
    made = report()
    one = set_tempo(1, TODAY, load=30.0, unit="kg", report=made)
    durations = [r.end_s - r.start_s for r in made.reps if not r.partial]
    assert one is not None and one.cv_percent == pytest.approx(detrended_cv(durations))  # type: ignore[arg-type]
    slowing = tuple(3.0 + 0.2 * i for i in range(12))
    assert replace(one, seconds=slowing).cv_percent == pytest.approx(0.0, abs=1e-9)
    assert replace(one, seconds=(3.0, 4.0)).cv_percent is None
    assert "even" not in against_usual(replace(one, seconds=(3.0, 4.0)), [])


def _set(day: date, load: float | None, lift: float, lower: float, unit: str = "kg") -> SetTempo:
    both = (lift + lower,) * 12
    return SetTempo(day.toordinal(), day, load, unit, (lift,) * 12, (lower,) * 12, both, 70.0, 0)


SEPTEMBER, OCTOBER = [date(2026, 9, d) for d in (5, 12, 19, 26)], [date(2026, 10, d) for d in (3, 10)]


def _weeks(after: tuple[float, float], load: float | None = 30.0, unit: str = "kg") -> list[SetTempo]:
    before = [_set(day, 27.5, 1.5, 2.4) for day in SEPTEMBER]
    return before + [_set(day, load, *after, unit=unit) for day in OCTOBER]


@pytest.mark.parametrize(
    ("sets", "said"),
    [
        (
            _weeks((1.5, 1.7)),
            "Since the load went up on 3 October, the way back takes 1.7 s instead of 2.4 s, "
            "the way in still takes 1.5 s.",
        ),
        (
            _weeks((1.2, 1.2)),
            "Since the load went up on 3 October, the way back takes 1.2 s instead of 2.4 s, "
            "the way in takes 1.2 s instead of 1.5 s.",
        ),
        (
            _weeks((1.6, 2.3)),
            "Since the load went up on 3 October both ways take as long as before: 1.6 s in and 2.3 s back.",
        ),
        (
            _weeks((1.5, 1.7), load=27.5),
            "In the last 3 sets, the way back takes 1.7 s instead of 2.4 s, the way in still takes 1.5 s.",
        ),
        (_weeks((1.5, 2.4), load=25.0), "In the last 3 sets both ways take as long as before"),
        (_weeks((1.5, 2.4), load=None), "In the last 3 sets both ways take as long as before"),
        (_weeks((1.5, 2.4), load=40.0, unit="pin"), "In the last 3 sets both ways take as long as before"),
        (_weeks((1.5, 1.7))[-1:], ""),
    ],
)  # fmt: skip
def test_one_sentence_says_what_became_of_each_way_since_the_load_went_up(
    sets: list[SetTempo], said: str
) -> None:
    found = over_weeks(sets[::-1], Motion(lift="in", lower="back"), TODAY)
    assert found.startswith(said) and bool(found) is bool(said)


def test_a_load_that_went_up_in_another_year_names_it() -> None:
    assert "on 3 October 2026," in over_weeks(_weeks((1.5, 1.7)), Motion(), date(2027, 1, 4))


def _places(drawn: str) -> list[float]:
    return [float(x) for x in re.findall(r'cx="([0-9.]+)%" cy="[0-9.]+" r="5"', drawn)]


def test_sets_stand_by_their_true_dates_and_those_of_one_day_side_by_side() -> None:
    days = [date(2026, 9, 1), date(2026, 9, 8), date(2026, 9, 29), date(2026, 9, 29)]
    drawn = weeks_drawing([replace(_set(d, 30.0, 1.5, 2.0), set_id=i) for i, d in enumerate(days)], False)
    both = _places(drawn)
    lift, lower = both[:4], both[4:]
    assert lift == lower == sorted(lift) and len(set(lift)) == 4
    last = (lift[2] + lift[3]) / 2
    assert (last - lift[1]) == pytest.approx(3 * (lift[1] - lift[0]), abs=0.02)
    assert ">8 Sep<" in drawn and ">1 Sep<" in drawn and drawn.count(">29 Sep<") == 1


def test_lift_and_lower_are_drawn_apart_over_the_target() -> None:
    drawn = weeks_drawing(_weeks((1.5, 1.7)), False, targets=((1.0, 2.0), (1.0, 2.0)))
    assert all(f">{name}<" in drawn for name in ("Lift", "Lower", "Range", "Load"))
    assert drawn.count("w-target") == 2
    (top, height), _ = re.findall(r'w-target"[^/]* y="([0-9.]+)" height="([0-9.]+)"', drawn)
    dots = [float(y) for y in re.findall(r'cy="([0-9.]+)" r="5"', drawn)]
    assert float(top) < dots[0] < float(top) + float(height), "1.5 s lies within 1 to 2 s"


def test_the_load_goes_in_titled_steps_by_its_weight() -> None:
    sets = [_set(d, load, 1.5, 2.0) for d, load in zip(SEPTEMBER, (10.0, 10.0, 20.0, 20.0), strict=True)]
    drawn = weeks_drawing([*sets, _set(OCTOBER[1], 100.0, 1.5, 2.0, unit="lb")], False)
    assert [drawn.count(f">{words}<") for words in ("10 kg", "20 kg", "100 lb")] == [1, 1, 1]
    heights = [float(y) for y in re.findall(r'cy="([0-9.]+)" r="3.5"', drawn)][-5:]
    assert heights[0] == heights[1] > heights[2] == heights[3] > heights[4]  # 100 lb is more than 20 kg
    upright = re.findall(r'x1="([0-9.]+)%" x2="\1%" y1="([0-9.]+)" y2="(?!\2")[0-9.]+"', drawn)
    assert len([y for _, y in upright if float(y) > 300]) == 2


def test_a_pin_is_no_step_from_a_weight() -> None:
    mixed = [_set(SEPTEMBER[0], 30.0, 1.5, 2.0), _set(OCTOBER[0], 4.0, 1.5, 2.0, unit="pin")]
    drawn = weeks_drawing(mixed, False)
    assert ">pin 4<" in drawn and ">30 kg<" not in drawn
    assert ">Load<" in weeks_drawing([_set(SEPTEMBER[0], None, 1.5, 2.0)], False)


def test_flags_are_drawn_for_trainers_only() -> None:
    sets = [_tempo(4.0 + n / 10, n) for n in range(1, 10)]
    assert weeks_drawing(sets, True).count("m-flag") == 5
    assert "m-flag" not in weeks_drawing(sets, False) and weeks_drawing(sets, False).count("w-dot") == 4 * 9


def test_two_sets_differ_phase_by_phase() -> None:
    made = report()
    slower = made.model_copy(
        update={"reps": [r.model_copy(update={"lower_s": r.lower_s + 0.4}) for r in made.reps]}
    )
    said = {phase: difference for phase, _, _, difference in phase_rows(made, slower)}
    assert said["Lift"] == said["Hold"] == "alike" and said["Lower"] == "0.4 s longer"
    assert dict((p, d) for p, _, _, d in phase_rows(slower, made))["Lower"] == "0.4 s shorter"
