"""What reaches the member, and when: nothing half checked, nothing that was called no fault."""

from __future__ import annotations

import pytest

from app.rules import told
from shared.errors import UsageError
from tests.store.conftest import Studio
from tests.store.made import check, new_set


def test_a_set_that_is_still_being_checked_is_not_handed_over(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    with pytest.raises(UsageError, match="still being checked"):
        studio.trainer.release(set_id)
    assert studio.trainer.set(set_id).reviewed_at is None
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    assert studio.trainer.set(set_id).reviewed_at is not None


def test_what_was_called_no_fault_or_taken_back_is_not_handed_over(studio: Studio) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    flags = [told.key_of(f) for f in studio.trainer.report(set_id).flags()]  # type: ignore[union-attr]
    studio.trainer.decide(set_id, flags, "no-fault")
    studio.trainer.add_moment(set_id, 12.5, "Feet flat.")
    studio.trainer.decide(set_id, ["added:1"], "withdrawn")
    studio.trainer.release(set_id)
    assert studio.ilse.told(set_id).prompts == []


def test_with_pain_told_nothing_is_coached_until_the_trainer_has_cleared_it(studio: Studio) -> None:
    set_id = new_set(studio.ilse, pain=True)
    check(studio.database, studio.files)
    before = studio.ilse.told(set_id)
    assert before.stop and not before.prompts and before.count is None
    studio.trainer.decide(set_id, [told.NOTE], "note", "Rest until Monday.")
    studio.trainer.release(set_id)
    handed = studio.ilse.told(set_id)
    assert handed.stop and handed.note and not handed.prompts, "handed over after the pain, and not cleared"
    studio.trainer.clear_pain(studio.ilse.actor.id, studio.trainer.pain(studio.ilse.actor.id).last)
    after = studio.ilse.told(set_id)
    assert not after.stop and after.prompts and not after.tempo
