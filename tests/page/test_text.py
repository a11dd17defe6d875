"""What people wrote is text on every screen, on the sheet and in tables: no markup, no formula."""

from __future__ import annotations

import ast
import csv
import io
import re
from pathlib import Path
from typing import Any

import pytest

from app.page.sheet import sheet_content, sheet_html
from app.rules import told
from app.rules.words import CARD_WORDS
from app.store.models import Person, TrainingSet
from app.views import parts
from shared.exercise import find_exercise
from tests.page.screens import Open
from tests.store.conftest import Studio
from tests.store.made import check, new_set, report
from tests.unit.handmade import analysis
from vision.telling.tables import reps_csv

MARKUP = "<b id=evil>"
EVIL = f"{MARKUP}x</b> ![i](http:&sol;&sol;e.example/p) http://e.example [l](http://e.example)"
#: A link or a picture whose brackets are not marked as text.
LINK = re.compile(r"(?<!\\)\]\(http|http://|(?<!\\)&sol;")
#: What AppTest calls elements whose text is read as Markdown; "html" is checked for markup alone.
_READ = (
    "markdown",
    "caption",
    "success",
    "info",
    "warning",
    "error",
    "toast",
    "button",
    "expander",
    "page_link",
)


@pytest.fixture
def evil(studio: Studio) -> tuple[Studio, int]:
    ilse = studio.ilse.actor.id
    with studio.database.write() as session:
        session.get_one(Person, ilse).name = EVIL[:80]
        session.get_one(Person, ilse).consent_at = session.get_one(Person, ilse).created_at
    card = {n: EVIL[:80] for n in CARD_WORDS}
    studio.trainer.save_card(ilse, "leg-extension", limits=EVIL, **card)
    said = report().model_copy(update={"notices": [EVIL]})
    set_id = new_set(studio.ilse, pain=True, pain_where=EVIL)
    check(studio.database, studio.files, said)
    studio.trainer.decide(set_id, ["knee-lockout:4"], "reword", EVIL)
    studio.trainer.add_moment(set_id, 3.0, EVIL)
    studio.trainer.decide(set_id, [told.NOTE], "note", EVIL)
    with studio.database.write() as session:
        session.get_one(TrainingSet, set_id).pain_before = False
    studio.trainer.clear_pain(ilse, studio.trainer.pain(ilse).last)
    failed = new_set(studio.ilse, clip=b"another")
    with studio.database.write() as session:
        row = session.get_one(TrainingSet, failed)
        row.status, row.message, row.clip_name = "failed", EVIL, EVIL
    return studio, set_id


def _offending(page: Any) -> list[str]:
    """Elements in which what was written would be read as markup, a link or a picture."""
    wrong = []
    for element in page.main:
        wrong += (
            _offending(type("P", (), {"main": element.children.values()}))
            if hasattr(element, "children")
            else []
        )
        kind, text = element.type, _words(element)
        if kind == "html" and MARKUP in text:
            wrong.append(f"html: {text[:200]}")
        allowed = bool(getattr(element.proto, "allow_html", False))
        if kind in _READ and (LINK.search(text) or (MARKUP in text and allowed)):
            wrong.append(f"{kind}: {text[:200]}")
    return wrong


def _words(element: Any) -> str:
    parts = [getattr(element, name, "") or "" for name in ("value", "label", "help")]
    raw = [getattr(element.proto, name, "") or "" for name in ("body", "help", "label")]
    return " ".join(str(p) for p in [*parts, *raw])


TABS = ("Settings card", "Sets", "Load", "Do you agree?", "Person and link")


@pytest.mark.parametrize(
    ("who", "screen", "query"),
    [
        ("trainer", "waiting", {}),
        ("trainer", "members", {}),
        ("trainer", "members", {"person": "ilse"}),
        ("trainer", "week", {}),
        *(("trainer", "members", {"person": "ilse", "tab": tab}) for tab in TABS),
        ("trainer", "review", {"set": "set"}),
        ("trainer", "review", {"set": "failed"}),
        ("trainer", "film", {"person": "ilse"}),
        ("trainer", "tempo", {"person": "ilse"}),
        ("trainer", "account", {}),
        ("ilse", "today", {}),
        ("ilse", "film", {}),
        ("ilse", "results", {}),
        ("ilse", "tempo", {}),
    ],
)
@pytest.mark.parametrize("released", [False, True])
def test_no_screen_reads_what_people_wrote_as_markup(
    open_page: Open,
    evil: tuple[Studio, int],
    who: str,
    screen: str,
    query: dict[str, str],
    released: bool,
) -> None:
    people, set_id = evil
    if released:
        people.trainer.release(set_id)
    numbers = {"ilse": str(people.ilse.actor.id), "set": str(set_id), "failed": str(set_id + 1)}
    page = open_page(people.all[who], screen, **{k: numbers.get(v, v) for k, v in query.items()})
    assert _offending(page) == []


def test_the_sheet_shows_what_people_wrote_as_text(evil: tuple[Studio, int]) -> None:
    people, set_id = evil
    people.trainer.release(set_id)
    page = sheet_html(sheet_content(people.trainer, people.trainer.person(people.ilse.actor.id)), 10.0)
    assert MARKUP not in page and "&lt;b id=evil&gt;" in page


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", " ="])
def test_no_cell_of_a_table_begins_a_formula(start: str) -> None:
    made = analysis(exercise=find_exercise("leg-extension")).report
    named = [f.model_copy(update={"check": f"{start}cmd|' /C calc'!A0"}) for f in made.findings]
    rows = csv.reader(io.StringIO(reps_csv(made.model_copy(update={"findings": named}))))
    cells = [cell for row in rows for cell in row if "calc" in cell]
    assert cells and all(cell.startswith("'") for cell in cells)


def test_a_label_shows_every_letter() -> None:
    assert parts.plain("a*b [c](d) <e> $f$") == r"a\*b \[c\](d) \<e\> \$f\$"
    assert parts.plain("Chest press, 8 to 12: 30 kg.") == "Chest press, 8 to 12: 30 kg."


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("http:&sol;&sol;evil.example", r"http:¦\&sol;\&sol;evil.example"),
        ("http://evil.example", "http:¦//evil.example"),
        ("WWW.evil.example", "WWW¦.evil.example"),
        ("a@evil.example", "a@¦evil.example"),
        (":material/home:", ":¦material/home:"),
        ("# a", r"\# a"),
        ("x\n- a\n 1. b", "x\n\\- a\n 1\\. b"),
        ("a | b", r"a \| b"),
    ],
)
def test_an_entity_a_bare_address_an_icon_and_a_list_are_text(written: str, shown: str) -> None:
    assert parts.plain(written) == shown.replace("¦", "\u2060")


def test_what_stands_in_help_is_a_constant_or_plain() -> None:
    found = [
        f"{file.name}: {ast.unparse(word.value)}"
        for file in sorted(Path(parts.__file__).parent.glob("*.py"))
        for call in ast.walk(ast.parse(file.read_text(encoding="utf-8")))
        if isinstance(call, ast.Call)
        for word in call.keywords
        if word.arg == "help" and not isinstance(word.value, ast.Constant)
    ]
    assert found and [one for one in found if ": parts.plain(" not in one] == []
