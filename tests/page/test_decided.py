"""The review says of a set what the trainer decided, not what the tool said before."""

from __future__ import annotations

from app.rules import told
from app.rules.handed import in_one_line
from app.rules.told import Said
from tests.page.screens import Open, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from vision.telling.cues import headline

LOCKOUTS = ["knee-lockout:4", "knee-lockout:9"]


def test_the_headline_of_a_review_follows_the_decisions(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    assert f"<b>{headline(report())}.</b>" in read(open_page(studio.trainer, "review", set=str(set_id)))
    studio.trainer.decide(set_id, LOCKOUTS, "no-fault")
    after = read(open_page(studio.trainer, "review", set=str(set_id)))
    assert headline(report()) not in after and "<b>Keep your chest tall." in after
    studio.trainer.decide(set_id, [told.key_of(f) for f in report().findings], "no-fault")
    assert "All that was flagged was called no fault." in read(
        open_page(studio.trainer, "review", set=str(set_id))
    )


def test_a_reworded_prompt_is_the_headline_in_its_own_words() -> None:
    said = {key: Said("reword", "Ease off: stop before the end.") for key in LOCKOUTS}
    assert in_one_line(report(), said) == (
        "Ease off: stop before the end. Reps 4 and 9 of 13 (12 full, 1 short)"
    )


def test_who_decided_what_is_told_in_the_words_of_the_prompts(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.decide(set_id, LOCKOUTS[:1], "no-fault")
    page = read(open_page(studio.trainer, "review", set=str(set_id)))
    assert "today: Knees locked out, rep 4: no fault" in page and "knee-lockout no fault" not in page


def test_why_there_is_no_hand_out_is_one_reason(studio: Studio, open_page: Open) -> None:
    pain = new_set(studio.ilse, pain=True)
    check(studio.database, studio.files)
    page = read(open_page(studio.trainer, "review", set=str(pain)))
    assert "No hand-out: pain was reported with this set." in page and "could not be judged" not in page


def test_a_set_of_which_one_rep_was_looked_at_says_so_wherever_it_stands(
    studio: Studio, open_page: Open
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, report().model_copy(update={"findings": []}))
    studio.trainer.release_clear([set_id])
    assert "One rep looked at" in read(open_page(studio.ilse, "results"))
    assert "Your trainer looked at one rep" in read(open_page(studio.ilse, "results", set=str(set_id)))
    studio.trainer.release(set_id)
    assert "One rep" not in read(open_page(studio.ilse, "results"))
