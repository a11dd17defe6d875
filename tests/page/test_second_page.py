"""The second clip of a set on the page: where it can be added, and what is said of both."""

from __future__ import annotations

import io

from app.jobs import queue
from app.views.second import SAME_SET
from tests.page.screens import Open, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report


def test_member_and_trainer_may_add_the_clip_from_another_side(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    assert SAME_SET not in read(open_page(studio.ilse, "results", set=str(set_id))), "not while it is checked"
    check(studio.database, studio.files)
    for access, name in ((studio.ilse, "results"), (studio.trainer, "review")):
        page = open_page(access, name, set=str(set_id))
        assert SAME_SET in read(page)
        asked = open_page.senders[-1]  # type: ignore[attr-defined]
        assert asked["filmed"] and asked["told"]["second_of"] == set_id, "sent as this set's second clip"


def test_both_read_how_the_two_clips_fit(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    job = queue.claim(studio.database)
    made = report()
    notes = ["front.mov shows the same set (likeness 0.93); it starts 1.20 s after tuesday.mov."]
    said = made.model_copy(update={"quality": made.quality.model_copy(update={"notes": notes})})
    assert job is not None
    queue.finish(studio.database, job, queue.Outcome(said))
    for access, name in ((studio.ilse, "results"), (studio.trainer, "review")):
        page = open_page(access, name, set=str(set_id))
        assert "Filmed from two sides" in read(page) and "shows the same set" in read(page)
        assert SAME_SET not in read(page)
