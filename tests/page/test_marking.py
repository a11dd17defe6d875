"""Marks of a machine on a trainer's page: offered for the next clip, used by one touch, and never unasked."""

from __future__ import annotations

from typing import Any

from app.views.marking import FROM_BOARD, HOW, MARKED, OFFERED
from shared.report_machine import MachinePart, MarkPart
from tests.page.screens import Open, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from tests.unit.test_machine_places import sight

STACK = {"name": "stack", "x": 60.0, "y": 300.0, "time_s": 4.0}


def test_marks_are_offered_to_be_looked_at_and_used_by_one_touch(studio: Studio, open_page: Open) -> None:
    seen: list[Any] = []

    def nothing(data: Any) -> list[Any]:
        seen.append(data)
        return []

    first = new_set(studio.ilse)
    check(studio.database, studio.files)
    assert HOW in read(open_page(studio.trainer, "review", marks=nothing, set=str(first)))
    assert seen[-1]["points"] == [] and "stack" in {w["name"] for w in seen[-1]["wanted"]}
    open_page(studio.trainer, "review", marks=lambda data: [STACK], set=str(first))
    check(studio.database, studio.files)
    assert MARKED in read(open_page(studio.trainer, "review", marks=nothing, set=str(first)))

    later = new_set(studio.odo, clip=b"another")
    check(studio.database, studio.files)
    assert OFFERED in read(open_page(studio.trainer, "review", marks=nothing, set=str(later)))
    assert seen[-1]["points"] == [{**STACK, "time_s": 0.0}]
    assert studio.trainer.set(later).marks is None, "looked at is not confirmed"
    open_page(studio.trainer, "review", marks=lambda data: data["points"], set=str(later))
    assert studio.trainer.set(later).marks == [{**STACK, "time_s": 0.0}]


def test_marks_from_the_board_are_said_and_nobody_is_asked(studio: Studio, open_page: Open) -> None:
    pivot = {"name": "pivot", "x": 200.0, "y": 280.0, "time_s": 2.0}
    first = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.mark_set(first, [pivot])
    machine = MachinePart(marks=[], sights=[sight()])
    check(studio.database, studio.files, report().model_copy(update={"machine": machine}))

    later = new_set(studio.odo, clip=b"another")
    found = MarkPart(
        name="pivot", x=210.0, y=281.0, time_s=0.0, seen_share=1.0, confidence=1.0, board_half_cm=1.1
    )
    machine = MachinePart(marks=[found])
    check(studio.database, studio.files, report().model_copy(update={"machine": machine}))
    seen: list[Any] = []
    said = read(open_page(studio.trainer, "review", marks=lambda data: seen.append(data), set=str(later)))
    assert FROM_BOARD.format(parts="Machine's axis") in said
    assert OFFERED not in said and HOW not in said and seen[-1]["points"] == []
    assert studio.trainer.set(later).marks is None


def test_what_cannot_be_used_is_said_and_nothing_is_kept(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    page = open_page(studio.trainer, "review", marks=lambda data: [{**STACK, "x": -1.0}], set=str(set_id))
    assert "do not fit this machine" in read(page)
    assert studio.trainer.set(set_id).marks is None
