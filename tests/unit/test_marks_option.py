"""Marks as people write them, and one sentence for each way to write them wrong."""

from __future__ import annotations

import pytest

from app.reading.marks_option import depth, inside, parse_marks
from shared.domain import Clip
from shared.errors import UsageError
from shared.exercise import find_exercise
from vision.seeing.marks import MarkPoint

LEG, PRESS = find_exercise("leg-extension"), find_exercise("chest-press")
CLIP = Clip("set.mov", 40.0, 1200, 30.0, 1080, 1920, 0)


def test_marks_read_as_people_write_them() -> None:
    assert parse_marks(["pivot=540,900@2.5", " stack = 60.5 , 610 "], LEG) == (
        MarkPoint("pivot", 540.0, 900.0, 2.5),
        MarkPoint("stack", 60.5, 610.0, 0.0),
    )
    assert parse_marks([], PRESS) == ()
    assert parse_marks(["pad=300,700,290,400@1"], PRESS) == (
        MarkPoint("pad", 300.0, 700.0, 1.0),
        MarkPoint("pad_end", 290.0, 400.0, 1.0),
    )


@pytest.mark.parametrize(
    ("texts", "said"),
    [
        (["stack"], "'stack' is no mark; write name=x,y@t"),
        (["stack=1"], "is no mark"),
        (["stack=1,2@"], "is no mark"),
        (["stack=-1,2"], "is no mark"),
        (["stock=1,2"], "there is no such mark; use pivot, knee, stack, handle, pad, seat"),
        (["pad_end=1,2"], "is no mark"),
        (["pad=1,2"], "a pad has two ends; write pad=x,y,x,y@t"),
        (["stack=1,2,3,4"], "it is one point"),
        (["stack=1,2", "stack=3,4"], "stack was given twice"),
        (["knee=1,2"], "beside --mark pivot only"),
    ],
)
def test_a_mark_that_cannot_be_used_is_one_sentence(texts: list[str], said: str) -> None:
    with pytest.raises(UsageError, match=said):
        parse_marks(texts, LEG)


def test_a_pivot_is_refused_where_no_check_uses_it() -> None:
    with pytest.raises(UsageError, match="chest-press compares no joint with the machine's axis"):
        parse_marks(["pivot=1,2"], PRESS)


def test_a_pad_is_refused_where_nothing_is_compared_with_it() -> None:
    with pytest.raises(UsageError, match="lat-pulldown compares nothing with a back pad"):
        parse_marks(["pad=1,2,3,4"], find_exercise("lat-pulldown"))


def test_a_seat_is_refused_where_nothing_is_compared_with_it() -> None:
    assert parse_marks(["seat=241,549@16.5"], find_exercise("leg-curl")) == (
        MarkPoint("seat", 241.0, 549.0, 16.5),
    )
    with pytest.raises(UsageError, match="leg-extension compares nothing with the seat's edge"):
        parse_marks(["seat=1,2"], LEG)


def test_a_mark_lies_in_the_picture_and_in_the_clip() -> None:
    inside(parse_marks(["stack=1079,1919@40"], LEG), CLIP)
    with pytest.raises(UsageError, match="lies outside the upright picture, which is 1080 wide"):
        inside(parse_marks(["stack=1080,5"], LEG), CLIP)
    with pytest.raises(UsageError, match=r"lies after the clip's end at 40\.0 s"):
        inside(parse_marks(["stack=5,5@41"], LEG), CLIP)


@pytest.mark.parametrize("depth_cm", [float("nan"), 61.0, -61.0])
def test_a_depth_that_fits_no_machine_is_refused(depth_cm: float) -> None:
    assert depth(-15.0) == -15.0
    with pytest.raises(UsageError, match="fits no machine"):
        depth(depth_cm)
