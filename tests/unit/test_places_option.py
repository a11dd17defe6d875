"""``--places``: the report of a marked clip, or one sentence on why it holds no place."""

from __future__ import annotations

from pathlib import Path

import handmade
import pytest
from test_machine_places import sight

from app.reading.places_option import read_places
from shared.errors import DefinitionError
from shared.exercise import find_exercise
from shared.places import Sight
from shared.report_machine import MachinePart

LEG = find_exercise("leg-extension")


def written(path: Path, *sights: Sight) -> Path:
    report = handmade.analysis(exercise=LEG).report
    machine = MachinePart(marks=[], sights=list(sights))
    path.write_text(report.model_copy(update={"machine": machine}).to_json(), encoding="utf-8")
    return path


def test_places_of_several_clips_are_read_in_their_order(tmp_path: Path) -> None:
    paths = [written(tmp_path / f"{x:g}.json", sight(right_cm=x)) for x in (1.0, 2.0)]
    assert read_places(paths, LEG) == (sight(right_cm=1.0), sight(right_cm=2.0))
    assert read_places([], LEG) == ()


def test_what_holds_no_place_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(DefinitionError, match="holds no place of a part; give the report of a clip"):
        read_places([written(tmp_path / "a.json")], LEG)
    with pytest.raises(DefinitionError, match="is of 'leg-extension', and this set is 'leg-curl'"):
        read_places([written(tmp_path / "b.json", sight())], find_exercise("leg-curl"))
    (tmp_path / "c.json").write_text('{"count": 3}', encoding="utf-8")
    with pytest.raises(DefinitionError, match=r"c\.json"):
        read_places([tmp_path / "c.json"], LEG)
    broken = written(tmp_path / "d.json", sight())
    broken.write_text(broken.read_text(encoding="utf-8").replace('"half_cm": 0.3', '"half_cm": -1'))
    with pytest.raises(DefinitionError, match=r"machine\.sights"):
        read_places([broken], LEG)
    far = written(tmp_path / "e.json", sight())
    far.write_text(far.read_text(encoding="utf-8").replace('"right_cm": 0.0', '"right_cm": 1e300'))
    with pytest.raises(DefinitionError, match=r"machine\.sights\.0\.right_cm"):
        read_places([far], LEG)
