"""The line of a key in a TOML text: by tables, arrays of tables, inline tables and values of many lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import ValidationError

from shared.definition import Strict, faults_of, line_of, read_text, read_toml
from shared.errors import DefinitionError

TEXT = """\
name = "own"
# lift = "not here"
notes = '''
lift = "nor here"
[drive]
'''
points = [
    [1, 2],
    [3, 4],
]
[drive]
lift = "rising"
limit = { at_most = 1, mm = 2 }
"at least" = 3
sizes.small = 1
[signals.knee.params]
lift = 1
[[views]]
name = "side"
[[views]]
name = "front"
[views.more]
lift = 2
[[views.notes]]
by = "a"
[[views.notes]]
by = "b"
[drive.more]
lift = 3
"""


@pytest.mark.parametrize(
    ("key", "line"),
    [
        (["name"], 1),
        (["notes"], 3),
        (["points"], 7),
        (["points", 1], 7),
        (["drive"], 11),
        (["drive", "lift"], 12),
        (["drive", "limit", "mm"], 13),
        (["drive", "at least"], 14),
        (["drive", "sizes", "small"], 15),
        (["signals", "knee", "params", "lift"], 17),
        (["views", 0, "name"], 19),
        (["views", 1, "name"], 21),
        (["views", 1, "more", "lift"], 23),
        (["views", 1, "notes", 1, "by"], 27),
        (["drive", "more", "lift"], 29),
        (["lift"], None),
        (["views", 2], None),
        (["name", "lift"], None),
        (["name", 7], None),
        ([], None),
    ],
    ids=str,
)
def test_a_key_stands_on_its_line(key: list[str | int], line: int | None) -> None:
    assert line_of(TEXT, key) == line
    assert line_of(TEXT.removesuffix("\n"), key) == line


def test_a_text_that_is_no_toml_has_no_line() -> None:
    assert line_of("lift = ", ["lift"]) is None and line_of("", ["lift"]) is None


class _Table(Strict):
    size: float


def test_a_fault_names_its_line_where_the_key_is_written() -> None:
    with pytest.raises(ValidationError) as caught:
        _Table.model_validate({"siez": 1.0})
    assert faults_of(caught.value, "\nsiez = 1.0") == [
        ("size", "is missing"),
        ("siez", "is not a known key (line 2)"),
    ]
    assert ("siez", "is not a known key") in faults_of(caught.value)


def test_a_size_must_be_a_number() -> None:
    with pytest.raises(ValidationError, match="finite number"):
        _Table.model_validate({"size": float("nan")})


def test_a_file_written_on_windows_may_begin_with_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xef\xbb\xbfnew = true")
    assert read_toml(path) == {"new": True}


def test_a_file_in_another_encoding_is_one_sentence(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes("title = 'Übung'".encode("latin-1"))
    with pytest.raises(DefinitionError, match=r"own\.toml: is not valid UTF-8"):
        read_text(path)
