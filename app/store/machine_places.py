"""Places of a machine's parts against its frame board, kept from marked sets for the later ones."""

from __future__ import annotations

from sqlalchemy.orm import Session

from app.rules.machine_places import kept_places, places_for
from app.rules.words import CARD_WORDS
from app.store import queries
from app.store.models import Card, MachineMarks, TrainingSet
from shared.exercise import find_exercise
from shared.places import Sight
from shared.report import SetReport


def places_of(session: Session, row: TrainingSet, card: Card | None) -> tuple[Sight, ...]:
    """What a set's check may take from the frame board: where parts of its machine lie."""
    kept = session.get(MachineMarks, row.exercise)
    if kept is None or not kept.places:
        return ()
    return places_for(kept.places, find_exercise(row.exercise), _settings(card))


def keep_places(session: Session, row: TrainingSet, report: SetReport) -> None:
    """Keep where the parts lie that were marked in a checked set, if its frame board was seen."""
    kept = session.get(MachineMarks, row.exercise)
    if kept is None or report.machine is None or not report.machine.sights:
        return
    card = queries.card(session, row.person_id, row.exercise)
    kept.places = kept_places(
        kept.places or [], report.machine.sights, row.id, find_exercise(row.exercise), _settings(card)
    )


def _settings(card: Card | None) -> dict[str, str]:
    return {} if card is None else {name: getattr(card, name) for name in CARD_WORDS}
