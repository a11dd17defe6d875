"""Answers to the question about the load, given and taken back; the settings card follows them."""

from __future__ import annotations

from app.rules.load_answer import Choice, LoadWord, choices, stands
from app.rules.pain import STOPPED
from app.rules.progress import advise
from app.store import tellings
from app.store.cards import blank_or_kept
from app.store.load_answers import WITHDRAWN, LoadAnswer, answers, latest
from app.store.review import member
from app.store.rules import own_or_trainer, trainer_only
from app.store.today import Today, history_of
from shared.errors import UsageError

OUTDATED = "Something new came in since you read this question; read it again and answer then."
OVER = "The answer that you wanted to take back is not there any more; read the question again."


class Loads(Today):
    """What trainers answer, and what members read of it."""

    def load_answers(self, person_id: int) -> dict[str, LoadWord]:
        """The last answer on each machine that was not taken back."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return answers(session, person_id)

    def said_load(self, person_id: int, exercise: str) -> LoadWord | None:
        """The load that a trainer asked for next on a machine; None once a newer set or card says otherwise.

        Raises
        ------
        DefinitionError : the studio's file cannot be used.
        """
        said = self.load_answers(person_id).get(exercise)
        if said is None:
            return None
        with self._db.read() as session:
            card = blank_or_kept(session, person_id, exercise)
        kept = (card.usual_load, card.unit) == (said.load, said.unit)
        return said if kept and any(stands(said, a) for a in self.load_questions(person_id)) else None

    def answer_load(self, person_id: int, exercise: str, choice: Choice, set_id: int) -> None:
        """Answer the question about the load on a machine, and write the load on the card; for trainers.

        set_id: the last set of the question that was read.
        """
        trainer_only(self.actor)
        settings = self.load_settings()
        with self._db.write() as session:
            if tellings.stopped(session, member(session, person_id).id):
                raise UsageError(STOPPED)
            found = advise(history_of(session, person_id), settings)
            asked = next((a for a in found if a.exercise == exercise), None)
            offered = {} if asked is None else choices(asked, settings)
            if asked is None or asked.last.set_id != set_id or choice not in offered:
                raise UsageError(OUTDATED)
            if stands(answers(session, person_id).get(exercise), asked):
                raise UsageError(OUTDATED)
            last = asked.last
            card = blank_or_kept(session, person_id, exercise)
            row = LoadAnswer(
                person_id=person_id, exercise=exercise, set_id=set_id, choice=choice, asked=asked.answer,
                before=last.load, load=offered[choice], unit=last.unit, card_load=card.usual_load,
                card_unit=card.unit, by_id=self.actor.id,
            )  # fmt: skip
            card.usual_load, card.unit, card.changed_by = row.load, row.unit, self.actor.id
            session.add_all((row, card))

    def take_back_load(self, person_id: int, exercise: str, set_id: int) -> None:
        """Take the last answer back: the question is asked again, the card says what it said; for trainers.

        A usual load that was kept on the card since then stays.
        """
        trainer_only(self.actor)
        with self._db.write() as session:
            given = latest(session, member(session, person_id).id, exercise)
            if given is None or given.set_id != set_id:
                raise UsageError(OVER)
            card = blank_or_kept(session, person_id, exercise)
            if (card.usual_load, card.unit) == (given.load, given.unit):
                card.usual_load, card.unit = given.card_load, given.card_unit
            card.changed_by = self.actor.id
            back = LoadAnswer(
                person_id=person_id, exercise=exercise, set_id=set_id, choice=WITHDRAWN, asked=given.asked,
                before=given.before, load=given.load, unit=given.unit, card_load=card.usual_load,
                card_unit=card.unit, by_id=self.actor.id,
            )  # fmt: skip
            session.add_all((back, card))
