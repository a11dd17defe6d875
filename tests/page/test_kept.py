"""Clips deleted on the page and put back, trainers who come and go, and who looked at whose clip."""

from __future__ import annotations

from app.views.machine import NOT_APPROVED
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report


def test_a_member_deletes_their_clip_and_puts_it_back(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    page = click(open_page(studio.ilse, "results", set=str(set_id)), "Delete it")
    assert "gone for good in 7 days" in read(page) and not studio.trainer.has_clip(set_id)
    page = open_page(studio.trainer, "review", set=str(set_id))
    assert "The clip is deleted" in read(page) and "Put the clip back" not in labels(page)
    click(open_page(studio.ilse, "results", set=str(set_id)), "Put the clip back")
    assert studio.trainer.has_clip(set_id)


def test_a_trainer_reads_that_an_approved_set_is_none_as_another_machine(
    studio: Studio, open_page: Open
) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.release(set_id)
    assert NOT_APPROVED not in read(open_page(studio.trainer, "review", set=str(set_id)))
    studio.trainer.make_reference(set_id)
    assert NOT_APPROVED in read(open_page(studio.trainer, "review", set=str(set_id)))


def test_the_owner_lets_a_trainer_in_and_out_and_reads_who_looked(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files)
    studio.trainer.decide(set_id, ["knee-lockout:4"], "no-fault")
    assert "Runa, " in read(open_page(studio.trainer, "review", set=str(set_id)))
    page = open_page(studio.trainer, "account", tab="Trainers")
    next(t for t in page.text_input if t.label == "A new trainer's name").set_value("Bero <b>")
    page = click(page, "Let them in")
    assert "/enter/" in page.code[0].value and "Runa at Ilse's set 1" in read(page)
    assert "Bero" in next(b.label for b in page.button if b.label.startswith("Shut out"))
    assert all(line.active for line in studio.trainer.trainers()), "Let go asks first"
    page = click(page, next(b.label for b in page.button if b.label.startswith("Shut out")))
    assert "Has left" in read(page) and "Bero <b>" not in read(page)


def test_letting_in_nobody_says_so_and_keeps_the_link_in_sight(studio: Studio, open_page: Open) -> None:
    page = open_page(studio.trainer, "account", tab="Trainers")
    assert "The name is empty" in read(click(page, "Let them in"))
    next(t for t in page.text_input if t.label == "A new trainer's name").set_value("Bero")
    page = click(page, "Let them in")
    page = click(page, "Let them in")
    assert "type their name first" in read(page) and "/enter/" in page.code[0].value and not page.error
    assert len(studio.trainer.trainers()) == 2


def test_without_a_clip_nobody_is_asked_to_watch_it(studio: Studio, open_page: Open) -> None:
    set_id = new_set(studio.ilse)
    check(studio.database, studio.files, report().model_copy(update={"findings": []}))
    open_page(studio.trainer, "review", set=str(set_id))
    assert "Watch a repetition" in open_page.shown[-1]["bare"]  # type: ignore[attr-defined]
    studio.ilse.delete_clip(set_id)
    open_page(studio.trainer, "review", set=str(set_id))
    assert open_page.shown[-1]["bare"] == "Nothing was flagged. There is no clip to watch."  # type: ignore[attr-defined]
