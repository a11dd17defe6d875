"""One printed page, as PDF: a member's settings, last sets, and what the trainer handed over."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from app.page.card_words import kept_on
from app.page.pdf import filled, one_page
from app.rules.inside_limit import inside
from app.rules.states import PAIN_ALONE
from app.rules.words import FEELINGS, day_words, exercise_of, title_of
from app.store.access import Access
from app.store.base import today
from app.store.cards import limit_of
from app.store.models import Person, TrainingSet
from shared.exercise import exercise_names
from shared.faults import is_own_range
from vision.common.cautions import CAUTIONS
from vision.telling.words import reps_words

STOP = "Pain was told and is not cleared: no training until your trainer has talked to you."
#: So many fit one page in large type; of what was handed over each machine has its first words all the same.
LAST_SETS, LAST_PROMPTS = 5, 4
#: Sizes of the type in points, largest first; the first one with which one page holds it all is taken.
SIZES = (16.0, 14.5, 13.0, 12.0, 11.0, 10.0, 9.0)


def sheet_pdf(access: Access, person: Person) -> bytes:
    """The sheet as a PDF of one A4 page, its type as large as the page allows.

    Only where people wrote more than one page holds in the smallest type there are more pages.

    Raises
    ------
    InternalError : the library that draws the page is missing. UsageError : its package is.
    """
    return bytes(fitted(sheet_content(access, person)).write_pdf())


def fitted(content: Mapping[str, Any]) -> Any:
    """The laid-out document, by ``SIZES``."""
    return one_page(lambda size: sheet_html(content, size), SIZES)


def sheet_html(content: Mapping[str, Any], size: float) -> str:
    """The page as one file that needs nothing else; text from people is escaped."""
    return filled("sheet.html", content, size)


def sheet_content(access: Access, person: Person) -> dict[str, Any]:
    """What stands on the sheet."""
    day, room = today(), access.room()
    sets = [s for s in access.sets(person.id) if s.status != PAIN_ALONE][:LAST_SETS]
    return {
        "name": person.name,
        "today": day_words(day, date.min),
        "stop": STOP if access.pain(person.id).stops else "",
        "cards": _cards(access, person.id),
        "prompts": _prompts(access, person.id),
        "sets": [
            {
                "title": title_of(s.exercise),
                "day": day_words(s.done_on, date.min),
                "load": room.load_words(s.load, s.unit),
                "count": "" if s.reps is None else str(s.reps),
                "felt": FEELINGS[s.feeling] if s.feeling else "",
            }
            for s in sets
        ],
        "cautions": CAUTIONS,
    }


def _cards(access: Access, person_id: int) -> list[tuple[str, list[tuple[str, str]]]]:
    """(machine, its settings) for every machine on which something is kept."""
    out, room = [], access.room()
    for name in exercise_names():
        card = access.card(person_id, name)
        kept = kept_on(card, room, access.asked_tempo(person_id, name))
        if kept:
            out.append((title_of(name), kept))
    return out


def _prompts(access: Access, person_id: int) -> list[tuple[str, str]]:
    """(where, words) of what was handed over last on each machine, newest first.

    Each machine has its note and its first cue, also one that was paused; more cues where they fit.
    """
    words = [_of_set(access, row) for row in access.last_reviewed(person_id)]
    room = LAST_PROMPTS - sum(len(note) + len(cues[:1]) for note, cues in words)
    out: list[tuple[str, str]] = []
    for note, cues in words:
        more = cues[1 : 1 + max(room, 0)]
        room -= len(more)
        out += [*note, *cues[:1], *more]
    return out


def _of_set(access: Access, row: TrainingSet) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """The trainer's note, where there is one, and the cues of one set, an own range first."""
    told, title = access.told(row.id), title_of(row.exercise)
    limit, exercise = limit_of(access.card(row.person_id, row.exercise)), exercise_of(row.exercise)
    prompts = sorted(
        (inside(p, limit, exercise) for p in told.prompts), key=lambda p: not is_own_range(p.check)
    )
    cues = [(f"{title}, {reps_words(list(p.reps))}" if p.reps else title, p.words) for p in prompts]
    return [(title, told.note)] if told.note else [], cues
