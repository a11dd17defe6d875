"""Files that people write or hand back, spoiled at random: read, or refused in one sentence."""

from __future__ import annotations

import json
import os
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from app.batches.list import read_list
from app.command.progress import load_settings
from app.rules.history import parse_history, read_history
from app.rules.progress import advise
from app.store.case_files import read_cases
from shared.errors import PlumbsetError
from shared.exercise import find_exercise, load_exercise
from shared.member import read_member
from shared.report import SetReport
from tests.store.made import report
from vision.judging.approved import load_reference
from vision.judging.bind import bind

ROOT = Path(__file__).parents[2]
#: Of each kind; PLUMBSET_FUZZ=5000 looks longer.
EXAMPLES = int(os.environ.get("PLUMBSET_FUZZ", "60"))
LEG = find_exercise("leg-extension")
MEMBER = """new = true
[exercises.leg-extension]
range = { at_least = 100 }
reference = "approved/report.json"
[exercises.leg-extension.limits]
knee-lockout = { at_most = 160 }
"""
HISTORY = """date,exercise,load,unit,repetitions,flags,flags_dismissed,pain,felt,slowed
2026-05-04,leg-extension,60,lb,17,0,0,no,easy,12
2026-05-07,leg-extension,60,kg,18,knee-lockout,knee-lockout,no,,
2026-05-07,leg-extension,4,pin,18,0,0,no,right,
"""
LIST = """clip,exercise,side,height_cm,cleared,member,reference
monday/mara.mov,leg-curl,left,172,,,
s3://studio/ilse.mp4,reverse-fly,,"170,5",yes,,
"""
SETTINGS = """target_reps = [12, 15]
rule = "two-for-two"
[stack]
unit = "lb"
start = 15.0
step = 15.0
add_on = 5.0
add_ons = 2
[stacks.leg-extension]
unit = "kg"
start = 5
step = 7
add_on = 2.5
"""
#: What takes the place of a piece: values of the wrong kind, absurd ones, and what breaks the syntax.
PIECES = st.one_of(
    st.sampled_from(["", "0", "-1", "1e309", "nan", "inf", "true", '"x"', "[]", "{}", "null", "=", '"', "\n",
                     "[[checks]]", "9" * 400, "1979-05-27", "{a = 1}", "\x00", "﻿", "'''", ",,,,", "=1+1",
                     "2026-02-30", "١٢", "\ud7ff", "🏋"]),
    st.text(max_size=20),
)  # fmt: skip


@st.composite
def spoiled(draw: st.DrawFn, text: str) -> bytes:
    """A text with pieces cut out, doubled or replaced, and now and then bytes that are no text."""
    for _ in range(draw(st.integers(1, 4))):
        a = draw(st.integers(0, len(text)))
        b = draw(st.integers(a, min(len(text), a + draw(st.sampled_from([0, 3, 30, 300])))))
        text = draw(
            st.sampled_from([text[:a] + text[b:], text[:b] + text[a:], text[:a] + draw(PIECES) + text[b:]])
        )
    data = text.encode("utf-8", "replace")
    at = draw(st.integers(0, len(data)))
    return data[:at] + draw(st.sampled_from([b"", b"", b"", b"\xff\xfe", b"\xed\xa0\x80"])) + data[at:]


READERS: dict[str, tuple[str, str, Callable[[Path], Any]]] = {
    "exercise": (
        "leg-curl.toml", (ROOT / "shared/exercises/leg-curl.toml").read_text(encoding="utf-8"),
        lambda path: bind(load_exercise(path)),
    ),
    "member": ("own.toml", MEMBER, lambda path: read_member(path, LEG)),
    "member as JSON": ("own.json", json.dumps({"new": True, "exercises": {LEG.name: {"usual_range": 50}}}),
                       lambda path: read_member(path, LEG)),
    "list of clips": ("clips.csv", LIST, lambda path: read_list(path, allow_remote=True)),
    "settings": ("settings.toml", SETTINGS, lambda path: advise(parse_history(HISTORY), load_settings(path))),
    "history": ("history.csv", HISTORY, lambda path: advise(read_history(path))),
    "reference": ("report.json", report().to_json(), lambda path: load_reference(path, LEG)),
}  # fmt: skip


@pytest.mark.parametrize("kind", sorted(READERS))
@given(data=st.data())
@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_spoiled_file_is_read_or_refused_in_one_sentence(
    kind: str, data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    name, text, read = READERS[kind]
    path = tmp_path_factory.getbasetemp() / f"fuzzed-{name}"
    path.write_bytes(data.draw(spoiled(text)))
    try:
        read(path)
    except PlumbsetError as error:
        said = str(error)
        assert said.strip() and "Traceback" not in said and str(path.parent) not in said


@pytest.mark.parametrize("kind", sorted(READERS))
def test_the_file_as_it_is_can_be_read(kind: str, tmp_path: Path) -> None:
    name, text, read = READERS[kind]
    (tmp_path / name).write_text(text, encoding="utf-8")
    read(tmp_path / name)


@given(
    at=st.lists(st.tuples(st.floats(0, 1), st.integers(1, 255)), min_size=1, max_size=12),
    kept=st.floats(0, 1) | st.just(1.0),
)
@settings(max_examples=EXAMPLES, deadline=None)
@example(at=[(0.17, 255), (0.19, 255), (0.2, 255)], kept=1.0)
def test_a_spoiled_archive_of_cases_is_refused_in_one_sentence(
    at: list[tuple[float, int]], kept: float, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzzed-cases.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("00001/case.json", json.dumps({"a": HISTORY}))
        out.writestr("00001/signals.csv", "time_s,knee_deg\n0,90\n")
    data = bytearray(path.read_bytes())
    for place, change in at:
        data[int(place * (len(data) - 1))] ^= change
    path.write_bytes(data[: int(kept * len(data))])
    with pytest.raises(PlumbsetError) as refused:
        list(read_cases(path))
    assert str(refused.value).strip() and str(path.parent) not in str(refused.value)


def test_a_report_of_the_first_version_still_opens() -> None:
    old = (ROOT / "tests/data/report-0.1.0.json").read_text(encoding="utf-8")
    assert SetReport.from_json(old).schema_ == "plumbset.set-report/1"


@given(extra=st.dictionaries(st.text(min_size=1, max_size=12).map("later_{}".format), st.integers()))
@settings(max_examples=30, deadline=None)
def test_a_report_with_fields_of_a_later_version_still_opens(extra: dict[str, int]) -> None:
    body = json.loads(report().to_json())
    later = {**body, **extra, "findings": [{**f, **extra} for f in body["findings"]]}
    assert SetReport.from_json(json.dumps(later)).count == body["count"]
