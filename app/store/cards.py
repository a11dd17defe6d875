"""Settings cards: how a machine is set up for a member, and the limits that are theirs."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.rules.card_limit import CardLimit, as_for, phrases
from app.store import queries
from app.store.models import Card, Studio
from app.store.review import Acting, member
from app.store.rules import (
    clean,
    known_exercise,
    own_or_trainer,
    sound,
    sound_limit,
    sound_load,
    trainer_only,
)
from shared.errors import UsageError
from shared.exercise import Exercise, Motion, find_exercise
from shared.faults import is_own_range
from shared.own_range import SIDES, Range

TEXTS = ("seat", "back_pad", "lever_pin", "start_position", "thigh_pad", "grip", "foot_support")
#: The numbers of a card by side: ``left_at_most_deg`` and the like.
LIMITS = tuple(f"{side}_{bound}_deg" for side in SIDES for bound in ("at_least", "at_most"))
ON_CARD = "The number on the settings card bounds this; change it there."


class Cards(Acting):
    """What is kept on settings cards."""

    def card(self, person_id: int, exercise: str) -> Card:
        """The settings of one machine for one member; empty ones where none are kept."""
        own_or_trainer(self.actor, person_id)
        with self._db.read() as session:
            return blank_or_kept(session, person_id, exercise)

    def save_card(self, person_id: int, exercise: str, **settings: Any) -> None:
        """Keep the settings of one machine for one member; for trainers.

        A number in degrees takes the place of own limits of checks on the same end.
        """
        trainer_only(self.actor)
        definition = find_exercise(known_exercise(exercise))
        with self._db.write() as session:
            member(session, person_id)
            card = blank_or_kept(session, person_id, exercise)
            _fill(card, settings)
            _fill_limit(card, settings, definition)
            fill_tempo(card, settings, definition.motion)
            left = {spec.id for spec in as_for(definition, limit_of(card)).checks}
            card.own_limits = {k: v for k, v in (card.own_limits or {}).items() if k in left} or None
            card.changed_by = self.actor.id
            session.add(card)

    def own_limits(self, person_id: int) -> dict[str, dict[str, dict[str, float]]]:
        """The member's own limits by machine and check; for trainers."""
        trainer_only(self.actor)
        with self._db.read() as session:
            cards = session.scalars(select(Card).where(Card.person_id == person_id).order_by(Card.exercise))
            return {card.exercise: dict(card.own_limits) for card in cards if card.own_limits}

    def use_limit(self, person_id: int, exercise: str, check: str, limit: Mapping[str, float] | None) -> None:
        """Use a limit of the member's own for one check from the next set on, None for the usual one.

        limit: {at_most or at_least: number in the check's unit}; only the side that the check has, and of
        no check that the card bounds with a number. For trainers.
        """
        trainer_only(self.actor)
        definition = find_exercise(known_exercise(exercise))
        with self._db.write() as session:
            member(session, person_id)
            card = blank_or_kept(session, person_id, exercise)
            bounded = {spec.id: spec for spec in as_for(definition, limit_of(card)).checks}
            if is_own_range(check) or (check not in bounded and check in {c.id for c in definition.checks}):
                raise UsageError(ON_CARD)
            if check not in bounded:
                raise UsageError("This machine has no such check; choose one that it has.")
            kept = {k: v for k, v in (card.own_limits or {}).items() if k != check}
            if limit is not None:
                kept[check] = sound_limit(bounded[check], limit)
            card.own_limits, card.changed_by = kept or None, self.actor.id
            session.add(card)


def limit_of(card: Card) -> CardLimit:
    """The limits in degrees that a card gives."""
    return CardLimit(*(_range(card, side) for side in SIDES))


def _range(card: Card, side: str) -> Range | None:
    low, high = (getattr(card, f"{side}_{bound}_deg") for bound in ("at_least", "at_most"))
    return None if low is None and high is None else Range(at_least=low, at_most=high)


def blank_or_kept(session: Session, person_id: int, exercise: str) -> Card:
    """The kept card, else one on which nothing is written yet."""
    texts = dict.fromkeys(TEXTS, "")
    return queries.card(session, person_id, exercise) or Card(
        person_id=person_id, exercise=exercise, usual_load=None,
        unit=queries.studio(session).weight_unit or "kg", limits="", cleared=False, own_limits=None,
        lift_s=None, lower_s=None, **dict.fromkeys(LIMITS), **texts,
    )  # fmt: skip


def _fill(card: Card, settings: Mapping[str, Any]) -> None:
    """Write checked settings on a card."""
    for name in TEXTS:
        if name in settings:
            setattr(card, name, clean(settings[name], name.replace("_", " ").capitalize(), 80))
    if "limits" in settings:
        card.limits = clean(settings["limits"], "The limits", 500)
    if "usual_load" in settings or settings.get("unit"):
        unit = settings.get("unit") or card.unit
        card.usual_load, card.unit = sound_load(settings.get("usual_load", card.usual_load), unit), unit
    if "cleared" in settings:
        card.cleared = bool(settings["cleared"])


def _fill_limit(card: Card, settings: Mapping[str, Any], exercise: Exercise) -> None:
    """Write the limits in degrees; UsageError where the machine has no such bound or two of a side cross."""
    for name in LIMITS:
        if name in settings:
            value = sound(settings[name], "The limit in degrees", low=0, high=200)
            if value is not None and name.split("_", 1)[1] not in phrases(exercise):
                raise UsageError(f"{exercise.title} takes no such limit in degrees; write it in words.")
            setattr(card, name, value)
    for side in SIDES:
        low, high = (getattr(card, f"{side}_{bound}_deg") for bound in ("at_least", "at_most"))
        if low is not None and high is not None and low >= high:
            raise UsageError(
                f"The limits leave no room: {low:g} degrees and {high:g}; the first must be smaller."
            )


def fill_tempo(kept: Card | Studio, settings: Mapping[str, Any], ways: Motion) -> None:
    """Write the tempo that is asked; UsageError where one is missing. ways: what the machine calls them."""
    if "lift_s" not in settings and "lower_s" not in settings:
        return
    lift, lower = (
        sound(settings.get(name), "The seconds", low=0.5, high=20) for name in ("lift_s", "lower_s")
    )
    if (lift is None) != (lower is None):
        raise UsageError(
            f"A tempo has two numbers, seconds {ways.lift} and seconds {ways.lower}: give both, or leave "
            "both empty."
        )
    kept.lift_s, kept.lower_s = lift, lower
