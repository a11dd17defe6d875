"""Which clips a batch is of: folders, lists, and one sentence for whatever is no list."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.batches.list import COLUMNS, Entry, entries_in, parse_list, read_list
from app.batches.results import folder_name
from shared.errors import DefinitionError, PlumbsetError, UsageError

HEADER = ",".join(COLUMNS)


def _clips(folder: Path, *names: str) -> None:
    for name in names:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")


def _list(folder: Path, text: str, encoding: str = "utf-8", allow_remote: bool = False) -> list[Entry]:
    path = folder / "clips.csv"
    path.write_text(text, encoding=encoding)
    return read_list(path, allow_remote)


def test_a_folder_is_of_one_exercise(tmp_path: Path) -> None:
    _clips(tmp_path, "b.MOV", "a.mp4", "notes.txt", ".hidden.mp4", "deeper/c.mp4")
    entries = entries_in(tmp_path, "leg-curl")
    assert [e.shown for e in entries] == ["a.mp4", "b.MOV"]
    assert {e.exercise.name for e in entries} == {"leg-curl"} and Path(entries[0].clip).is_absolute()


def test_sub_folders_are_named_after_exercises(tmp_path: Path) -> None:
    _clips(tmp_path, "leg-curl/a.mp4", "chest-fly/a.mp4", "reports/page.html")
    entries = entries_in(tmp_path, None)
    assert [(e.shown, e.exercise.name) for e in entries] == [
        ("chest-fly/a.mp4", "chest-fly"),
        ("leg-curl/a.mp4", "leg-curl"),
    ]
    assert len({folder_name(e) for e in entries}) == 2


@pytest.mark.parametrize(
    ("names", "exercise", "said"),
    [
        (["a.mp4"], None, "What exercise is 'a.mp4'"),
        (["leg-day/a.mp4"], None, "'leg-day' holds clips but is named after no exercise"),
        (["notes.txt"], "leg-curl", "There is no clip in the folder"),
        (["a.mp4"], "leg-curls", "did you mean 'leg-curl'"),
    ],
)
def test_a_folder_that_does_not_say_enough_is_one_sentence(
    tmp_path: Path, names: list[str], exercise: str | None, said: str
) -> None:
    _clips(tmp_path, *names)
    with pytest.raises(UsageError, match=said):
        entries_in(tmp_path, exercise)


def test_a_list_says_how_each_clip_is_judged(tmp_path: Path) -> None:
    (tmp_path / "own.toml").write_text("new = true\n", encoding="utf-8")
    text = (
        f"{HEADER}\nmon/a.mov,leg-curl,left,172.5,yes,own.toml,\n"
        f"\ns3://studio/b.mp4,chest-fly,,,,,\n{tmp_path}/c.mp4,leg-curl,,,,,\n"
    )
    one, two, three = _list(tmp_path, text, "utf-8-sig", allow_remote=True)
    assert one.clip == str(tmp_path / "mon" / "a.mov") and one.shown == "mon/a.mov"
    assert (one.options.side, one.options.height_cm, one.options.cleared) == ("left", 172.5, True)
    assert one.options.member is not None and one.options.member.new
    assert two.clip == "s3://studio/b.mp4" and two.options.side is None and three.clip == f"{tmp_path}/c.mp4"


@pytest.mark.parametrize(("cell", "cleared"), [("yes", True), ("no", False), ("", False)])
def test_who_is_not_said_to_be_cleared_is_not(tmp_path: Path, cell: str, cleared: bool) -> None:
    (entry,) = _list(tmp_path, f"clip,exercise,cleared\na.mov,reverse-fly,{cell}\n")
    assert entry.options.cleared is cleared


def test_columns_may_be_left_out_and_stand_in_any_order(tmp_path: Path) -> None:
    (entry,) = _list(tmp_path, "Exercise ; clip\r\nleg-curl;a, b.mov\r\n")
    assert entry.shown == "a, b.mov"


def test_the_same_clip_may_be_judged_for_both_sides(tmp_path: Path) -> None:
    entries = _list(tmp_path, "clip,exercise,side\na.mp4,leg-curl,left\na.mp4,leg-curl,right\n")
    assert len({folder_name(e) for e in entries}) == 2


BAD = [
    ("", "line 1: has no column clip or exercise"),
    ("clip\na.mp4", "line 1: has no column exercise"),
    ("clip,exercise,heigth_cm\na,leg-curl,170", "line 1: has a column 'heigth_cm', which means nothing"),
    ("clip,clip,exercise\na,a,leg-curl", "line 1: has the column clip twice"),
    ("clip,exercise\n", "names no clip"),
    ("clip,exercise\na.mp4", "line 2: has 1 cells where the header has 2"),
    ("clip,exercise\n,leg-curl", "line 2, clip: is empty"),
    ("clip,exercise\na\x1b[2J.mp4,leg-curl", r"line 2, clip: 'a\x1b[2J.mp4' is no name of a file"),
    ("clip,exercise,side\na,leg-curl,up", "line 2, side: 'up' is no side"),
    ("clip,exercise,height_cm\na,leg-curl,17", "line 2, height_cm: '17' is no body height"),
    ("clip,exercise,height_cm\na,leg-curl,nan", "line 2, height_cm: 'nan' is no body height"),
    ("clip,exercise,cleared\na,leg-curl,maybe", "line 2, cleared: 'maybe' says neither yes nor no"),
    ('clip,exercise\n"a,leg-curl', "is not valid CSV"),
    ("clip,exercise\na,leg-curls", "line 2: There is no exercise 'leg-curls' (did you mean"),
    ("clip,exercise,member\na,leg-curl,none.toml", "line 2: none.toml: cannot be read"),
    ("clip,exercise\na,leg-curl\n\na,leg-curl", "line 4: is the same clip and exercise as line 2"),
    ("clip,exercise\n" + ",leg-curl\n" * 9, "and 5 more"),
]


@pytest.mark.parametrize(("text", "said"), BAD)
def test_what_is_wrong_with_a_list_is_one_sentence_with_its_line(
    tmp_path: Path, text: str, said: str
) -> None:
    with pytest.raises(DefinitionError) as told:
        _list(tmp_path, text)
    assert said in str(told.value) and "\n" not in str(told.value)
    assert str(told.value).startswith("clips.csv: ")


OUTSIDE = [
    ("../a.mp4,leg-curl,,", "'../a.mp4' lies outside the list's own folder"),
    ("/etc/hostname,leg-curl,,", "'/etc/hostname' lies outside"),
    ("out/a.mp4,leg-curl,,", "'out/a.mp4' lies outside"),
    ("a.mp4,../own.toml,,", "'../own.toml' lies outside"),
    ("a.mp4,leg-curl,/proc/self/environ,", "'/proc/self/environ' lies outside"),
    ("a.mp4,leg-curl,,../report.json", "'../report.json' lies outside"),
    ("file:///etc/hostname,leg-curl,,", "'file:///etc/hostname' is no URL that a list may name"),
    ("LOCAL:///etc/hostname,leg-curl,,", "is no URL that a list may name"),
    ("https://a::file:///etc/hostname,leg-curl,,", "is no URL that a list may name"),
]


@pytest.mark.parametrize(("row", "said"), OUTSIDE)
def test_a_list_opens_nothing_outside_its_folder(tmp_path: Path, row: str, said: str) -> None:
    folder = tmp_path / "list"
    folder.mkdir()
    (folder / "out").symlink_to(tmp_path)
    with pytest.raises(DefinitionError) as told:
        _list(folder, f"clip,exercise,member,reference\n{row}\n", allow_remote=True)
    assert "line 2: " in str(told.value) and said in str(told.value)


def test_a_list_names_urls_only_where_that_is_allowed(tmp_path: Path) -> None:
    text = "clip,exercise\nhttps://studio.example/a.mp4,leg-curl\n"
    with pytest.raises(DefinitionError, match="add --allow-remote"):
        _list(tmp_path, text)
    assert _list(tmp_path, text, allow_remote=True)[0].clip == "https://studio.example/a.mp4"


@pytest.mark.parametrize(("data", "said"), [(b"\xff\xfe\x00", "is not UTF-8"), (b"x" * 20_000_001, "20 MB")])
def test_what_is_no_text_is_one_sentence(tmp_path: Path, data: bytes, said: str) -> None:
    (tmp_path / "clips.csv").write_bytes(data)
    with pytest.raises(DefinitionError, match=said):
        read_list(tmp_path / "clips.csv")
    with pytest.raises(DefinitionError, match="cannot be read"):
        read_list(tmp_path / "none.csv")


_CELLS = st.lists(st.lists(st.text(max_size=12), max_size=8).map(",".join), max_size=5).map("\n".join)
_TEXT = st.one_of(st.text(), _CELLS, _CELLS.map(lambda rows: f"{HEADER}\n{rows}"))


@given(_TEXT)
def test_any_text_gives_rows_or_one_clear_sentence(text: str) -> None:
    try:
        lines = parse_list(text)
    except PlumbsetError as error:
        said = str(error)
        assert said.startswith("clips.csv: ") and len(said.splitlines()) == 1 and said.isprintable()
    else:
        assert lines and all(line.clip and line.exercise for line in lines)
        assert all(line.height_cm is None or 100 <= line.height_cm <= 230 for line in lines)
