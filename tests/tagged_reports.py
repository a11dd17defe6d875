"""The handmade report with a stack and a lever tag, for what holds the body against them."""

from __future__ import annotations

from shared.report import SetReport
from shared.report_machine import LeverPart, LoadPart, LoadRepPart, MachinePart, MarkPart, SpanPart
from tests.unit import handmade


def mark(name: str, tag: bool = True) -> MarkPart:
    return MarkPart(name=name, x=1, y=1, time_s=0, seen_share=1.0, confidence=1.0, tag=tag)


def report(later_s: float = 0.1, tag: bool = True, count_off: int = 0) -> SetReport:
    """The handmade set, whose load is later than the body by ``later_s`` at each turn."""
    whole = handmade.analysis().report
    rows = [
        LoadRepPart(
            number=r.number, lift_s=r.lift_s + later_s, lower_s=r.lower_s, lift_peak_speed=None,
            lower_peak_speed=None, landing_speed_cm=None, rest_s=None, start_s=r.start_s,
            turn_s=r.turn_s + later_s, lower_start_s=r.lower_start_s + later_s, end_s=r.end_s,
        )
        for r in whole.reps
    ]  # fmt: skip
    inside = SpanPart(start_s=whole.reps[0].end_s, end_s=whole.reps[1].start_s)
    before = SpanPart(start_s=0.0, end_s=whole.reps[0].start_s)
    load = LoadPart(
        unit="cm",
        count=(whole.count or 0) + count_off,
        lowest_is_stack=True,
        rests=[before, inside],
        reps=rows,
    )
    lever = LeverPart(range_deg=60.0, uncertainty=1.5)
    machine = MachinePart(marks=[mark("stack", tag), mark("lever", tag)], load=load, lever=lever)
    return whole.model_copy(update={"machine": machine})
