"""Numbers of members' cards: one a member, theirs alone, and gone with them."""

from __future__ import annotations

import json
import zipfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from app.store import card_numbers
from app.store.card_numbers import actor_of
from app.store.erasing import erase
from app.store.rules import Refused
from shared.errors import UsageError
from tests.store.conftest import Studio


def test_a_card_once_given_stays_that_member_s(studio: Studio) -> None:
    assert studio.trainer.give_cards() == {1: "Ilse", 2: "Odo"}
    new = studio.trainer.save_member(None, "Bero")
    assert studio.trainer.give_cards([new]) == {3: "Bero"}
    assert studio.trainer.give_cards() == {1: "Ilse", 2: "Odo", 3: "Bero"}


def test_nobody_has_a_number_until_it_is_asked_for(studio: Studio) -> None:
    assert studio.trainer.card_number(studio.odo.actor.id) is None
    studio.trainer.give_cards([studio.odo.actor.id])
    assert studio.odo.card_number(studio.odo.actor.id) == 1


def test_an_ended_number_is_not_given_anew_while_there_is_another(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A lost card would give its finder's sets to somebody else."""
    monkeypatch.setattr(card_numbers, "CARDS", 3)
    ilse, odo = studio.ilse.actor.id, studio.odo.actor.id
    studio.trainer.give_cards()
    studio.trainer.end_card(ilse)
    studio.trainer.end_card(odo)
    assert studio.trainer.give_cards([odo]) == {3: "Odo"}
    assert studio.trainer.give_cards([ilse]) == {1: "Ilse"}, "the one that was ended longest ago"


def test_more_members_than_cards_is_said_in_a_sentence(
    studio: Studio, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(card_numbers, "CARDS", 1)
    with pytest.raises(UsageError, match="all are given"):
        studio.trainer.give_cards()
    assert studio.trainer.card_number(studio.ilse.actor.id) is None, "none or all"


def test_an_archived_member_s_card_is_nobody_s_and_stays_so_when_they_come_back(studio: Studio) -> None:
    ilse = studio.ilse.actor.id
    studio.trainer.give_cards([ilse])
    acting = actor_of(studio.database, 1)
    assert acting is not None and acting.id == ilse
    studio.trainer.archive_member(ilse)
    assert actor_of(studio.database, 1) is None
    studio.trainer.bring_back(ilse)
    assert actor_of(studio.database, 1) is None and studio.trainer.card_number(ilse) is None


def test_erasing_ends_the_card_and_its_number_waits_too(studio: Studio) -> None:
    studio.trainer.give_cards()
    erase(studio.database, studio.files, studio.ilse.actor.id)
    assert actor_of(studio.database, 1) is None
    new = studio.trainer.save_member(None, "Bero")
    assert studio.trainer.give_cards([new]) == {3: "Bero"}


def test_a_card_says_nothing_of_who_had_the_number_before(studio: Studio) -> None:
    studio.trainer.give_cards()
    with studio.database.read() as session:
        earlier = datetime.now(UTC) - timedelta(minutes=1)
        assert card_numbers.owner(session, 1, earlier) is None


def test_the_number_goes_with_the_member_s_archive(studio: Studio, tmp_path: Path) -> None:
    studio.trainer.give_cards()
    studio.odo.deny_pain(studio.odo.actor.id)
    studio.trainer.export_member(studio.odo.actor.id, tmp_path / "odo.zip")
    with zipfile.ZipFile(tmp_path / "odo.zip") as archive:
        kept = json.loads(archive.read("data.json"))
    assert [row["number"] for row in kept["member_card"]] == [2]
    assert len(kept["no_pain"]) == 1


def test_a_member_reads_their_own_number_alone(studio: Studio) -> None:
    with pytest.raises(Refused):
        studio.ilse.card_number(studio.odo.actor.id)
