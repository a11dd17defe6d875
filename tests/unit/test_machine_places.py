"""Places of a studio's machine: for whom they hold, and which are kept."""

from __future__ import annotations

from app.rules.machine_places import MOST, kept_places, places_for
from shared.exercise import find_exercise
from shared.places import Sight, StillPart

LEG, PRESS, CURL = (find_exercise(name) for name in ("leg-extension", "chest-press", "leg-curl"))


def sight(name: StillPart = "pivot", right_cm: float = 0.0) -> Sight:
    return Sight(
        name=name, right_cm=right_cm, down_cm=60.0, right_per_cm=0.1, down_per_cm=0.1, half_cm=0.3,
        half_per_cm=0.05,
    )  # fmt: skip


def test_what_nobody_moves_holds_for_everyone() -> None:
    kept = kept_places([], [sight()], 1, LEG, {})
    assert places_for(kept, LEG, {"back_pad": "4"}) == places_for(kept, LEG, {}) == (sight(),)
    kept = kept_places([], [sight("seat")], 1, CURL, {})
    assert places_for(kept, CURL, {"back_pad": "4"}) == (sight("seat"),), "a leg curl's seat is fixed"


def test_a_pad_holds_at_the_setting_at_which_it_was_marked_alone() -> None:
    kept = kept_places([], [sight("pad"), sight("pad_end")], 1, LEG, {"back_pad": "4"})
    assert places_for(kept, LEG, {"back_pad": " 4 "}) == (sight("pad"), sight("pad_end"))
    assert places_for(kept, LEG, {"back_pad": "5"}) == places_for(kept, LEG, {}) == ()


def test_a_pad_whose_setting_nobody_knows_is_not_kept() -> None:
    assert kept_places([], [sight("pad"), sight()], 1, LEG, {"back_pad": " "})[0]["name"] == "pivot"
    assert kept_places([], [sight("seat")], 1, PRESS, {}) == []


def test_a_set_that_is_marked_again_tells_in_place_of_what_it_told() -> None:
    kept = kept_places([], [sight(right_cm=1.0)], 1, LEG, {})
    kept = kept_places(kept, [sight(right_cm=2.0)], 2, LEG, {})
    kept = kept_places(kept, [sight(right_cm=3.0)], 1, LEG, {})
    assert [one.right_cm for one in places_for(kept, LEG, {})] == [2.0, 3.0]


def test_the_newest_clips_are_kept_of_each_part_at_each_setting() -> None:
    kept = kept_places([], [sight("pad")], 99, LEG, {"back_pad": "4"})
    for set_id in range(MOST + 3):
        kept = kept_places(kept, [sight(right_cm=float(set_id))], set_id, LEG, {})
    assert [one["set_id"] for one in kept if one["name"] == "pivot"] == list(range(3, MOST + 3))
    assert [one["set_id"] for one in kept if one["name"] == "pad"] == [99]
