"""Whose card a number is: given when it is asked for, ended with the member, and last of all given anew."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import func, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from app.store.database import Database
from app.store.found_tables import MemberCard
from app.store.models import Person, now
from app.store.review import Acting, member
from app.store.rules import Actor, own_or_trainer, trainer_only
from shared.errors import UsageError
from shared.tags import CARDS

NONE_FREE = f"There are {CARDS} cards and all are given; archive members who train here no longer."


class CardNumbers(Acting):
    """What is done with members' cards."""

    def card_number(self, person_id: int) -> int | None:
        """The number on a member's card, None without one; for themselves and for trainers."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return session.scalar(select(MemberCard.number).where(MemberCard.person_id == person_id))

    def give_cards(self, person_ids: Sequence[int] | None = None) -> dict[int, str]:
        """Names by number of some members, of all where none are named; who has no card gets one.

        For trainers. UsageError where there are more members than cards.
        """
        trainer_only(self.actor)
        try:
            return self._given(person_ids)
        except IntegrityError:  # another trainer gave the same number at the same moment
            return self._given(person_ids)

    def end_card(self, person_id: int) -> None:
        """Let a member's card count no longer, such as a lost one; for trainers."""
        trainer_only(self.actor)
        with self._db.write() as session:
            end(session, member(session, person_id).id)

    def _given(self, person_ids: Sequence[int] | None) -> dict[int, str]:
        with self._db.write() as session:
            if person_ids is None:
                query = select(Person).where(Person.role == "member", Person.active)
                people = list(session.scalars(query.order_by(func.lower(Person.name), Person.id)))
            else:
                people = [member(session, number) for number in person_ids]
            return {_number(session, person.id): person.name for person in people}


def _number(session: Session, person_id: int) -> int:
    """The member's number; a new one was never given, else it is the one that was ended longest ago."""
    rows = {card.number: card for card in session.scalars(select(MemberCard))}
    own = next((number for number, card in rows.items() if card.person_id == person_id), None)
    if own is not None:
        return own
    unused = next((number for number in range(1, CARDS + 1) if number not in rows), None)
    ended = sorted((card.ended_at, n) for n, card in rows.items() if card.person_id is None and card.ended_at)
    if unused is None and not ended:
        raise UsageError(NONE_FREE)
    card = MemberCard(number=unused) if unused is not None else rows[ended[0][1]]
    card.person_id, card.given_at, card.ended_at = person_id, now(), None
    session.add(card)
    session.flush()
    return card.number


def end(session: Session, person_id: int) -> None:
    """Take a member's card from them; the number is not given anew while there is another one."""
    card = session.scalar(select(MemberCard).where(MemberCard.person_id == person_id))
    if card is not None:
        card.person_id, card.ended_at = None, now()
        session.flush()


def owner(session: Session, number: int, moment: datetime) -> Person | None:
    """The member whose card a number was at a moment and still is, None for nobody's."""
    card = session.get(MemberCard, number)
    if card is None or card.person_id is None or moment < card.given_at:
        return None
    person = session.get(Person, card.person_id)
    return person if person is not None and person.active else None


def actor_of(database: Database, number: int) -> Actor | None:
    """The member whose card a number is now, to act for them; None for nobody's."""
    with database.read() as session:
        person = owner(session, number, now())
        return None if person is None else Actor(person.id, person.name, person.role)
