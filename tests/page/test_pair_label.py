"""Where a repetition plays beside the best one, the label is of what the card speaks of; in Chromium."""

from __future__ import annotations

from typing import Any

import pytest

from app.page.theme import ASSETS

pytestmark = pytest.mark.browser

#: One moment of a clip of a knee at 150 degrees and a trunk that leans 26, seen from either side.
DRAW = """([points, side, beside]) => {
  const said = [];
  const pen = new Proxy({}, {
    get: (_, name) => (text) => {
      if (name === "fillText") said.push(text);
      return { width: 9 };
    },
    set: () => true,
  });
  const at = (part, x, y) => [`${side}_${part}`, [x, y, x, y]];
  const canvas = { width: 100, height: 100, getContext: () => pen };
  const moving = new Moving(canvas, { currentTime: 0, clientWidth: 100, clientHeight: 100 });
  moving.kept = {
    rate_hz: 1, start_s: 0, size: [100, 100], near: side, bones: [], marks: {}, drive: "knee",
    points: Object.fromEntries([
      at("hip", 40, 60), at("shoulder", 50, 20), at("knee", 70, 60), at("ankle", 90, 70),
    ]),
    signals: {
      knee: { points: ["hip", "knee", "ankle"].map((one) => `${side}_${one}`), values: [150, 150] },
      trunk: { points: ["hip", "shoulder"].map((one) => `${side}_${one}`), values: [26, 26] },
    },
  };
  if (beside) {
    const pair = Object.assign(Object.create(Pair.prototype), { loops: [{ moving }], shape: "[1]" });
    pair.show([1], points);
  } else moving.focus = { points, values: [] };
  moving.draw();
  return said; }"""
TRUNK = ["left_hip", "left_shoulder"]


@pytest.mark.parametrize(
    ("points", "side", "beside", "said"),
    [
        (TRUNK, "left", True, ["trunk 26°"]),
        (TRUNK, "right", True, ["trunk 26°"]),
        (["left_hip", "left_knee", "left_ankle"], "left", True, ["150°"]),
        (["left_hip"], "left", True, []),
        ([], "left", True, ["150°"]),
        (TRUNK, "left", False, []),
    ],
    ids=[
        "lean",
        "a best from the other side",
        "knee",
        "a length",
        "time",
        "the player keeps to the card's number",
    ],
)
def test_the_label_is_that_of_which_the_card_speaks(
    browser: Any, points: list[str], side: str, beside: bool, said: list[str]
) -> None:
    page = browser.new_page()
    scripts = "\n".join((ASSETS / name).read_text(encoding="utf-8") for name in ("moving.js", "pair.js"))
    page.add_script_tag(content=f"{scripts}\nObject.assign(window, {{ Moving, Pair }});")
    assert page.evaluate(DRAW, [points, side, beside]) == said
    page.close()
