"""Names and limits of a definition are checked before any frame is read."""

from __future__ import annotations

import pytest

from shared.errors import DefinitionError
from shared.exercise import find_exercise
from shared.limit import Limit
from vision.judging.bind import bind, wanted_marks

LEG = find_exercise("leg-extension")


def changed(check: str, **fields):
    specs = [s.model_copy(update=fields) if s.id == check else s for s in LEG.checks]
    return LEG.model_copy(update={"checks": tuple(specs)})


@pytest.mark.parametrize(
    ("check", "fields", "said"),
    [
        (
            "stack-rest",
            {"limit": Limit(at_least=1.0)},
            "stack-rest.limit: rest_at_load_down knows at_most",
        ),
        (
            "too-fast",
            {"limit": Limit(at_most=1.0)},
            "too-fast.limit: phase_duration knows at_least only",
        ),
        ("chest-drop", {"limit": Limit(at_least=3.0)}, "course_change knows at_most only, not at_least"),
        ("chest-drop", {"signal": None}, "checks.chest-drop.signal: is missing: course_change looks at one"),
        ("chest-drop", {"measure": "course_chnage"}, "did you mean 'course_change'?"),
        ("chest-drop", {"params": {"direction": "sideways"}}, "checks.chest-drop.params.direction"),
    ],
)
def test_what_a_check_cannot_take_is_refused_in_one_sentence(check, fields, said) -> None:
    with pytest.raises(DefinitionError, match=said.replace("?", "\\?")):
        bind(changed(check, **fields))


def test_marks_are_wanted_by_the_checks_that_need_them() -> None:
    assert "pivot" in wanted_marks(LEG)
    assert "pivot" not in wanted_marks(find_exercise("chest-press"))
