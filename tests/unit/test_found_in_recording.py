"""Whose card, which machine's tags: where in a recording they are looked for."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest

from sample_clips.recordings import card_picture
from sample_clips.tagged import paper
from shared.domain import Clip, Frame
from shared.recording import Likely
from shared.tags import tag_id
from vision.measuring.reps.sittings import Bout
from vision.recording import CARD_BEFORE_S, _before, _pieces, _tag
from vision.seeing.member_cards import shown_card


class Room:
    """A recording of a grey wall on which sheets hang from one moment to another."""

    clip = Clip("room.mp4", 300.0, 1500, 5.0, 320, 240, 0)

    def __init__(self, *hung: tuple[float, float, np.ndarray]) -> None:
        self.hung = hung

    def frames(
        self,
        start_s: float = 0.0,
        end_s: float | None = None,
        min_step_s: float = 0.0,
        gray: bool = True,
    ) -> Iterator[Frame]:
        until_s = self.clip.duration_s if end_s is None else end_s
        for k in range(int(np.ceil(5 * start_s)), int(5 * until_s)):
            picture = np.full((240, 320), 170, np.uint8)
            for begin_s, gone_s, sheet in self.hung:
                if begin_s <= k / 5 < gone_s:
                    picture[40 : 40 + len(sheet), 60 : 60 + len(sheet)] = sheet
            yield Frame(k, k / 5, picture)


MINE, THEIRS = card_picture(7, 90), card_picture(3, 90)


def card_of(second_sat_s: float, *hung: tuple[float, float, np.ndarray]) -> int | None:
    """The card of the second of two people, who train from 20 s and from 120 s on."""
    bouts = [Bout(0, 20.0, 60.0, 16), Bout(1, 120.0, 150.0, 12)]
    return shown_card(_before(Room(*hung), bouts, second_sat_s, 1))


@pytest.mark.parametrize("held_s", [100.0, 112.0, 121.0], ids=["before", "in the seat", "with a reach"])
def test_a_card_names_who_sits_down_next(held_s: float) -> None:
    assert card_of(108.0, (held_s, held_s + 2, MINE)) == 7


def test_a_card_of_long_ago_names_nobody() -> None:
    assert card_of(108.0, (108.0 - CARD_BEFORE_S - 4, 108.0 - CARD_BEFORE_S - 1, MINE)) is None


def test_the_card_of_who_trained_before_never_names_the_next() -> None:
    assert card_of(66.0, (50.0, 55.0, THEIRS)) is None


@pytest.mark.parametrize("machine", [1, 5])
def test_a_machine_is_told_by_its_tags(machine: int) -> None:
    one = Likely(20.0, 60.0, 11.0, 69.0, 0, 16)
    assert _tag(Room((0.0, 300.0, paper(tag_id(machine, "stack")))), one) == machine
    assert _tag(Room(), one) is None
    assert _tag(Room((0.0, 300.0, MINE)), one) is None


def test_pieces_leave_nothing_out_and_meet_without_overlap() -> None:
    pieces = list(_pieces((10.0, 400.0)))
    assert pieces[0][0] == 10.0 and pieces[-1][1] == 400.0
    assert all(0 < b[0] - a[1] < 1e-3 for a, b in pairwise(pieces))
