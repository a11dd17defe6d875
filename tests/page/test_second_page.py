"""The second clip of a set on the page: where it can be added, and what is said of both."""

from __future__ import annotations

import io

import pytest

from app.jobs import queue
from app.jobs.contained import OURS
from app.views.kept import FROM_BEFORE, NOT_ANEW
from app.views.second import ONE_ALONE, SAME_SET
from tests.page.screens import Open, click, read
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


@pytest.mark.parametrize(
    ("note", "fits"),
    [
        ("front.mov shows the same set as tuesday.mov; it starts 1.2 s later.", True),
        ("front.mov was left out: too dark.", False),
    ],
)
def test_the_trainer_reads_how_two_clips_fit_once_and_the_member_whether(
    studio: Studio, open_page: Open, note: str, fits: bool
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    job = queue.claim(studio.database)
    made = report()
    said = made.model_copy(update={"quality": made.quality.model_copy(update={"notes": [note]})})
    assert job is not None
    queue.finish(studio.database, job, queue.Outcome(said))
    trainer = read(open_page(studio.trainer, "review", set=str(set_id)))
    member = read(open_page(studio.ilse, "results", set=str(set_id)))
    assert trainer.count(note) == 1 and note not in member
    for text in (trainer, member):
        assert "Filmed from two sides" in text and (ONE_ALONE in text) is not fits
        assert (SAME_SET in text) is not fits, "one that could not be used may be replaced"


def test_what_a_second_check_could_not_tell_is_said_above_what_stands_from_before(
    studio: Studio, open_page: Open
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.ilse.add_second(set_id, io.BytesIO(b"front"), "front.mov")
    job = queue.claim(studio.database)
    assert job is not None
    queue.fail(studio.database, job, OURS)
    member = read(open_page(studio.ilse, "results", set=str(set_id)))
    page = open_page(studio.trainer, "review", set=str(set_id))
    for text in (member, read(page)):
        assert f"{NOT_ANEW} {OURS} {FROM_BEFORE}" in text and ONE_ALONE in text and SAME_SET in text
    assert "Stop just short of locking your knees." in member
    click(page, "Have it checked again")
    assert studio.trainer.set(set_id).status == "checking"
