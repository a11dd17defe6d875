"""The terminal's table: a line a repetition, and nothing in it that is true of them all."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from app.command.terminal import _stands_out
from tests.check_sets import context, found


@pytest.mark.parametrize(("view", "told"), [("side", ""), ("front", "cannot tell: short range")])
def test_what_a_view_never_shows_is_not_told_of_each_repetition(view: str, told: str) -> None:
    findings = found(context("chest-fly", view="side"), "short-range")
    code = "view" if view == "side" else "limb-hidden"
    findings = [f.model_copy(update={"reason_code": code}) for f in findings]
    assert str(_stands_out(SimpleNamespace(number=1, partial=False), findings)) == told  # type: ignore[arg-type]
