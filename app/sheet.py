"""One page to print or save as PDF: a member's settings, last sets, and what the trainer handed over."""

from __future__ import annotations

from datetime import UTC, datetime

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from app.store.access import Access
from app.store.models import Person
from app.theme import ASSETS
from app.words import CARD_WORDS, FEELINGS, day_words, load_words, title_of
from shared.exercise import exercise_names
from vision.outputs.words import reps_words
from vision.prompts import CAUTIONS

#: So many fit one page in large type.
LAST_SETS, LAST_PROMPTS = 5, 4
#: With more words than this the type is smaller, so that one page holds them.
MANY_WORDS = 900


def sheet_html(access: Access, person: Person) -> str:
    """The sheet as one file that needs nothing else; text from people is escaped."""
    today = datetime.now(UTC).date()
    sets = access.sets(person.id, most=LAST_SETS)
    page = Environment(loader=FileSystemLoader(ASSETS), autoescape=True, undefined=StrictUndefined)
    cards, prompts = _cards(access, person.id), _prompts(access, person.id)
    words = sum(len(w) for _, w in prompts) + sum(len(v) for _, kept in cards for _, v in kept)
    return page.get_template("sheet.html").render(
        small=words > MANY_WORDS,
        name=person.name,
        today=f"{day_words(today, datetime.min.date())}",
        cards=cards,
        sets=[
            {
                "title": title_of(s.exercise),
                "day": day_words(s.done_on, today),
                "load": load_words(s.load, s.unit),
                "count": "" if s.count is None else str(s.count),
                "felt": FEELINGS.get(s.feeling or "", ""),
            }
            for s in sets
        ],
        prompts=prompts,
        cautions=CAUTIONS,
    )


def _cards(access: Access, person_id: int) -> list[tuple[str, list[tuple[str, str]]]]:
    """(machine, its settings) for every machine on which something is kept."""
    out = []
    for name in exercise_names():
        card = access.card(person_id, name)
        kept = [(word, str(getattr(card, key))) for key, word in CARD_WORDS.items() if getattr(card, key)]
        kept += [("Load", load_words(card.usual_load, card.unit))] if card.usual_load is not None else []
        kept += [("Limits", card.limits)] if card.limits else []
        if kept:
            out.append((title_of(name), kept))
    return out


def _prompts(access: Access, person_id: int) -> list[tuple[str, str]]:
    """(where, words) of what was handed over last, newest first."""
    out: list[tuple[str, str]] = []
    for row in access.sets(person_id):
        if row.reviewed_at is None or len(out) >= LAST_PROMPTS:
            continue
        told = access.told(row.id)
        if told.note:
            out.append((title_of(row.exercise), told.note))
        for prompt in told.prompts:
            which = f", {reps_words(list(prompt.reps))}" if prompt.reps else ""
            out.append((f"{title_of(row.exercise)}{which}", prompt.words))
    return out[:LAST_PROMPTS]
