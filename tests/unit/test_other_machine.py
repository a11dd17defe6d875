"""Another machine is asked about before anything is said of the set, and only where there is a sign of it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from app.page.deep_links import SCREENS
from app.rules.other_machine import doubt_of
from tests.unit import handmade
from vision.common.notices import LOOKS_LIKE

MADE = handmade.analysis().report
FLAG = MADE.flags()[0]
LIKE = f"{LOOKS_LIKE} chest press, not like leg extension. If so, check the clip again as that machine."


@pytest.mark.parametrize(
    ("reps", "checks", "asked"), [(7, 3, True), (6, 3, False), (13, 2, False), (13, 4, True)]
)
def test_over_half_of_all_repetitions_flagged_by_three_checks_asks(
    reps: int, checks: int, asked: bool
) -> None:
    flags = [
        FLAG.model_copy(update={"check": f"check-{c}", "rep": n})
        for c in range(checks)
        for n in range(1, reps + 1)
    ]
    assert (doubt_of(MADE.model_copy(update={"findings": flags})) is not None) is asked


def test_the_movement_of_another_machine_names_it() -> None:
    assert doubt_of(MADE) is None
    doubt = doubt_of(MADE.model_copy(update={"notices": ["other", LIKE], "other_machines": ["chest-press"]}))
    assert doubt is not None and (doubt.words, doubt.names) == (LIKE, ("chest-press",))


def test_every_screen_beside_the_first_has_its_deep_link() -> None:
    main = (Path(__file__).parents[2] / "app" / "main.py").read_text(encoding="utf-8")
    assert set(re.findall(r'url_path="(\w+)"\)', main)) == set(SCREENS)
