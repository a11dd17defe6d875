"""What the reviews say of the tool, on the studio's page, and the count put right on the review."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from app.store.access import NewSet
from app.store.models import TrainingSet
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set


@pytest.fixture
def reviewed(studio: Studio) -> int:
    """A set of today: one flag right, one not, one fault missed."""
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    with studio.database.write() as session:
        session.get_one(TrainingSet, set_id).done_on = datetime.now(UTC).date()
    studio.trainer.decide(set_id, ["knee-lockout:4"], "agree")
    studio.trainer.decide(set_id, ["chest-drop:11"], "no-fault")
    studio.trainer.add_moment(set_id, 12.5, "Left <b>foot</b> slid off.")
    return set_id


def _opened(studio: Studio, open_page: Open) -> Any:
    return open_page(studio.trainer, "account", tab="Found and missed")


def test_the_studio_reads_what_was_found_and_what_was_missed(
    studio: Studio, reviewed: int, open_page: Open
) -> None:
    page = _opened(studio, open_page)
    said = read(page)
    assert "Of 2 flags 1 was right; 0 faults were missed." in said
    assert "&lt;b&gt;foot" in said and "<b>foot" not in said
    box = next(b for b in page.selectbox if b.label == "Check")
    page = box.set_value("hips-off-pad").run()
    assert "1 fault was missed" in read(page)
    assert studio.trainer.added(datetime.now(UTC).date())[0].check == "hips-off-pad"


def test_without_a_review_the_page_says_how_to_begin(studio: Studio, open_page: Open) -> None:
    assert "No review in these weeks" in read(_opened(studio, open_page))


def test_a_wrong_count_is_put_right_by_one_tap_and_back_again(
    studio: Studio, reviewed: int, open_page: Open
) -> None:
    page = open_page(studio.trainer, "review", set=str(reviewed))
    page = click(page, "It was 11")
    assert studio.trainer.set(reviewed).reps == 11 and "Counted 12 reps, it was 11." in read(page)
    click(page, "Back to 12")
    assert studio.trainer.set(reviewed).counted is None


def test_a_set_that_was_not_counted_asks_for_no_count(studio: Studio, open_page: Open) -> None:
    pain = NewSet(studio.ilse.actor.id, "leg-curl", datetime.now(UTC).date(), pain_before=True)
    set_id, _ = studio.ilse.add_set(pain, None)
    page = open_page(studio.trainer, "review", set=str(set_id))
    assert not [label for label in labels(page) if label.startswith("Were")]


def test_a_sets_day_and_load_are_mended_on_its_review(studio: Studio, reviewed: int, open_page: Open) -> None:
    page = open_page(studio.trainer, "review", set=str(reviewed))
    next(n for n in page.number_input if n.label == "Load").set_value(42.5)
    click(page, "Save day and load")
    assert studio.trainer.set(reviewed).load == 42.5
