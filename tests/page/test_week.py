"""The trainer's week: plain rules on histories, and the screen."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from app.rules.history import SetRecord
from app.rules.load_settings import Settings
from app.rules.stack import Stack
from app.rules.week import Digest, Trained, Waiting, digest, slips
from app.views import parts
from tests.page.screens import Open, read
from tests.store.conftest import Studio
from tests.store.made import DAY, check, new_set, report

TODAY = date(2026, 3, 5)


def _sets(*rows: tuple[float, int], exercise: str = "leg-curl", unit: str = "kg") -> list[SetRecord]:
    """(load, open faults) of sets two days apart, the last one yesterday; all of 15 repetitions."""
    return [
        SetRecord(TODAY - timedelta(days=2 * (len(rows) - i) - 1), exercise, load, unit, 15, faults)  # type: ignore[arg-type]
        for i, (load, faults) in enumerate(rows)
    ]


def _of(*members: Trained) -> Digest:
    return digest(members, Settings(), TODAY)


def _member(history: list[SetRecord], name: str = "Ilse", waiting: Waiting | None = None) -> Trained:
    return Trained(1, name, waiting, history)


SLIPS = [
    ("clean before, flagged since", _sets((20, 0), (20, 0), (25, 1), (25, 2)), "in 2 of 2 sets at 25"),
    ("flagged once since", _sets((20, 0), (25, 0), (25, 1)), "in 1 of 2 sets at 25 kg, in 0 of 1 at 20"),
    ("flagged as often before", _sets((20, 1), (20, 0), (25, 0), (25, 1)), ""),
    ("better since", _sets((20, 1), (20, 1), (25, 0), (25, 1)), ""),
    ("clean throughout", _sets((20, 0), (25, 0)), ""),
    ("the load went down", _sets((25, 0), (25, 0), (20, 1), (20, 1)), ""),
    ("always one load", _sets((20, 0), (20, 1)), ""),
    ("only the last load but one counts", _sets((15, 0), (20, 1), (25, 1)), ""),
    ("from pin to pin", _sets((3, 0), (4, 1), unit="pin"), "in 1 of 1 set at pin 4, in 0 of 1 at pin 3"),
]  # fmt: skip


@pytest.mark.parametrize(("sets", "said"), [s[1:] for s in SLIPS], ids=[s[0] for s in SLIPS])
def test_form_slips_where_more_sets_are_flagged_since_the_load_went_up(
    sets: list[SetRecord], said: str
) -> None:
    found = slips(sets, Settings())
    assert said in found and bool(said) is bool(found)


def test_a_flag_called_no_fault_is_no_slip() -> None:
    sets = [replace(r, dismissed=r.flags) for r in _sets((20, 0), (25, 1))]
    assert slips(sets, Settings()) == ""


def test_a_weight_after_a_pin_rose_only_where_the_stack_is_known() -> None:
    mixed = [*_sets((3, 0), (3, 0), unit="pin")[:1], *_sets((40, 1))]
    own = Settings(stack=Stack(unit="kg", start=10, step=10, add_on=2))
    assert slips(mixed, own).startswith("Flagged in 1 of 1 set at 40 kg") and slips(mixed, Settings()) == ""


def test_who_waits_longest_comes_first_and_pain_before_all() -> None:
    old, new = TODAY - timedelta(days=9), TODAY - timedelta(days=1)
    found = _of(
        _member([], "Bero", Waiting(1, new, 7, False)),
        _member([], "Ilse", Waiting(3, old, 8, False)),
        _member([], "Odo", Waiting(1, new, 9, True)),
        _member([], "Wenna", Waiting(1, new, 4, pain=False, cleared="Runa")),
        _member([], "Tamsin"),
    )
    assert found.not_looked_at[-1].words == "Pain reported, cleared by Runa. 1 set waits, done yesterday"
    assert [(line.name, line.set_id) for line in found.not_looked_at] == [
        ("Odo", 9),
        ("Ilse", 8),
        ("Bero", 7),
        ("Wenna", 4),
    ]
    assert [line.words for line in found.not_looked_at][:2] == [
        "Pain reported. 1 set waits, done yesterday",
        "3 sets wait, the oldest done Tue 24 February",
    ]


def test_only_what_was_done_this_week_is_due() -> None:
    due = _sets((30, 0), (30, 0))
    weary = [replace(r, repetitions=9, exercise="chest-fly") for r in due]
    holding = [replace(r, repetitions=13, exercise="leg-extension") for r in due]
    flagged = [replace(r, flags=1, exercise="chest-press") for r in due]
    found = _of(_member([*due, *weary, *holding, *flagged]))
    assert [line.exercise for line in found.due] == ["chest-fly", "leg-curl"]
    assert found.due[1].words.startswith("Go up to 32.5 kg?")
    hurt = replace(_member(due), stopped=True)
    assert _of(hurt).due == (), "pain on another machine comes first"
    long_ago = [replace(r, day=r.day - timedelta(days=7)) for r in due]
    assert _of(_member(long_ago)).due == () and _of(_member(_sets((20, 0), (25, 1)))).slipping != ()


def test_the_week_leads_to_who_waits_who_slips_and_who_is_due(
    studio: Studio, open_page: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(parts, "today_utc", lambda: datetime(DAY.year, DAY.month, DAY.day, 12, tzinfo=UTC))
    text = read(open_page(studio.trainer, "week"))
    assert "Every set was looked at." in text and "Nobody." in text
    clean = report().model_copy(update={"count": 15, "findings": []})
    for n in range(2):
        new_set(studio.ilse, clip=bytes([n]))
        check(studio.database, studio.files, clean)
    new_set(studio.odo, clip=b"3")
    check(studio.database, studio.files, clean)
    text = read(open_page(studio.trainer, "week"))
    assert "2 sets wait, the oldest done today" in text and "1 set waits, done today" in text
    assert "Go up to 32.5 kg?" in text
