"""The proof on the studio's page: what is told of its own sets with tags, and that checks go by it."""

from __future__ import annotations

import json
from typing import Any

import pytest
from sqlalchemy import select

from app.jobs import queue
from app.store.access import Access
from app.store.models import Person
from app.store.rules import Actor, Refused
from app.views.proof import NONE_YET, OWN, USUAL
from shared.errors import UsageError
from shared.proof import FEW_CLIPS
from shared.report import SetReport
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set
from tests.store.made import report as plain
from tests.tagged_reports import report as tagged


def said(late_s: float) -> SetReport:
    """The made set, whose load turns so much later than the body."""
    return plain().model_copy(update={"machine": tagged(late_s).machine})


def sets(studio: Studio, how_many: int) -> None:
    for n in range(how_many):
        new_set(studio.ilse, clip=f"clip {n}".encode())
        check(studio.database, studio.files, said(0.1 * n))


def opened(studio: Studio, open_page: Open, tab: str = "Proof") -> Any:
    return open_page(studio.trainer, "account", tab=tab)


def test_without_tags_the_page_says_how_to_begin(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse)
    check(studio.database, studio.files)
    assert NONE_YET in read(opened(studio, open_page))


def test_the_trainer_reads_one_sentence_the_limits_and_every_set(studio: Studio, open_page: Open) -> None:
    sets(studio, FEW_CLIPS)
    page = opened(studio, open_page)
    told = read(page)
    assert f"Of {FEW_CLIPS} clips with tags" in told and "trust clips without tags no further" in told
    assert any(h.value == f"Leg extension, {FEW_CLIPS} sets" for h in page.header)
    assert told.count('class="drawn agree"') >= 1 and "Time of the lift, s, body less tag: mean " in told
    assert told.count("Ilse, ") == FEW_CLIPS and "tuesday.mov" not in told


def test_few_sets_prove_nothing_and_checks_cannot_go_by_them(studio: Studio, open_page: Open) -> None:
    sets(studio, FEW_CLIPS - 1)
    assert "Cannot tell yet" in read(opened(studio, open_page))
    with pytest.raises(UsageError, match="Too little is proved"):
        studio.trainer.keep_proof(True)
    assert studio.trainer.kept_proof() is None


def test_a_set_checked_again_without_its_tag_proves_nothing_more(studio: Studio) -> None:
    sets(studio, 1)
    (one,) = studio.trainer.proven()
    studio.trainer.try_again(one.set_id)
    check(studio.database, studio.files)
    assert studio.trainer.proven() == []


def test_the_owner_has_later_checks_go_by_it_and_back(studio: Studio, open_page: Open) -> None:
    sets(studio, FEW_CLIPS)
    new_set(studio.odo)
    before = queue.claim(studio.database)
    assert before is not None and before.proof is None
    page = opened(studio, open_page, "Settings")
    page = next(r for r in page.radio if r.label == "Later checks are").set_value(OWN).run()
    assert f"Leg extension ({FEW_CLIPS})" in read(page)
    new_set(studio.odo, clip=b"another")
    after = queue.claim(studio.database)
    assert after is not None and after.proof is not None
    assert after.proof.machines["leg-extension"].clips == FEW_CLIPS
    next(r for r in page.radio if r.label == "Later checks are").set_value(USUAL).run()
    assert studio.trainer.kept_proof() is None


def test_what_is_kept_stays_until_it_is_kept_anew(studio: Studio, open_page: Open) -> None:
    sets(studio, FEW_CLIPS)
    studio.trainer.keep_proof(True)
    kept = studio.trainer.kept_proof()
    new_set(studio.odo)
    check(studio.database, studio.files, said(0.0))
    assert studio.trainer.kept_proof() == kept
    page = opened(studio, open_page, "Settings")
    assert "Go by the sets with tags up to today" in labels(page)
    click(page, "Go by the sets with tags up to today")
    anew = studio.trainer.kept_proof()
    assert anew is not None and anew.machines["leg-extension"].clips == FEW_CLIPS + 1


def test_only_the_owner_decides_it(studio: Studio) -> None:
    sets(studio, FEW_CLIPS)
    studio.trainer.invite_trainer("Bero")
    with studio.database.read() as session:
        bero = session.scalars(select(Person).where(Person.name == "Bero")).one()
        other = Access(studio.database, studio.files, Actor(bero.id, bero.name, bero.role))
    assert other.proven()
    for access in (other, studio.ilse):
        with pytest.raises(Refused):
            access.keep_proof(True)


def test_the_numbers_alone_name_nobody(studio: Studio) -> None:
    sets(studio, FEW_CLIPS)
    studio.trainer.keep_proof(True)
    kept = studio.trainer.kept_proof()
    assert kept is not None and "Ilse" not in json.dumps(kept.model_dump(mode="json"))
