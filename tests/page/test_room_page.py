"""The studio's settings on the page, and what follows them on other screens."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from sqlalchemy import select

from app.rules.room import usual_machines
from app.rules.words import title_of
from app.store.access import Access
from app.store.models import Person, TrainingSet, now
from app.store.rules import Actor
from tests.page.screens import Open, click, labels, read
from tests.store.conftest import Studio
from tests.store.made import check, new_set

#: The machine whose stack is offered first.
FIRST = title_of(usual_machines()[0])


def _number(page: Any, label: str) -> Any:
    return next(n for n in page.number_input if n.label == label)


def _settings(studio: Studio, open_page: Open) -> Any:
    return open_page(studio.trainer, "account", tab="Settings")


def test_machines_and_units_are_chosen_and_followed_where_people_film_and_read(
    studio: Studio, open_page: Open
) -> None:
    new_set(studio.ilse)
    check(studio.database, studio.files)
    page = _settings(studio, open_page)
    page.multiselect[0].set_value(["leg-curl", "leg-extension"])
    for radio in page.radio:
        if radio.label in ("Loads in", "Heights in"):
            radio.set_value({"Loads in": "lb", "Heights in": "ft"}[radio.label])
    click(page, "Save machines and units")
    assert "66.1 lb" in read(open_page(studio.ilse, "results"))
    assert "66.1 lb" in read(open_page(studio.trainer, "waiting"))
    film = open_page(studio.ilse, "film").button_group[0].set_value("No").run()
    tiles = [b.label for b in film.button if b.label in ("Seated leg curl", "Leg extension", "Chest press")]
    assert tiles == ["Seated leg curl", "Leg extension"]
    person = open_page(studio.trainer, "members", tab="Person and link", person=str(studio.ilse.actor.id))
    _number(person, "Body height, feet (may stay empty)").set_value(5)
    _number(person, "and inches").set_value(6.0)
    click(person, "Save")
    assert studio.trainer.person(studio.ilse.actor.id).height_cm == 167.6


def test_a_stack_is_kept_beside_the_files_and_given_back(studio: Studio, open_page: Open) -> None:
    studio.files.folder.mkdir(exist_ok=True)
    file = '[load.stack]\nunit = "kg"\nstart = 10\nstep = 10\nadd_on = 2\n'
    (studio.files.folder / "studio.toml").write_text(file, encoding="utf-8")
    page = _settings(studio, open_page)
    _number(page, "Lightest load: the top plate").set_value(7.5)
    _number(page, "Step: each further plate").set_value(7.5)
    _number(page, "Add-on weight (empty: none)").set_value(2.5)
    next(b for b in page.button if b.label.startswith("Save the stack")).click().run()
    assert f"<td>{FIRST}</td><td>7.5 kg</td><td>7.5 kg</td><td>2.5 kg</td>" in read(page)
    assert "<td>Seated leg curl</td><td>10 kg</td>" in read(page), "the file's own goes on"
    click(page, "Back to what the file says")
    assert f"<td>{FIRST}</td><td>10 kg</td>" in read(page)


def test_the_rule_is_chosen_and_a_target_the_wrong_way_round_is_said(studio: Studio, open_page: Open) -> None:
    page = _settings(studio, open_page)
    next(r for r in page.radio if r.label == "More load is a question after").set_value("two-for-two")
    click(page, "Save the rule")
    assert "of 17 reps or more" in read(page)
    _number(page, "Target reps from").set_value(20)
    click(page, "Save the rule")
    assert "smaller number to the larger" in read(page)


def test_fewer_days_ask_first_where_clips_would_go(studio: Studio, open_page: Open) -> None:
    new_set(studio.ilse)
    with studio.database.write() as session:
        session.scalars(select(TrainingSet)).one().uploaded_at = now() - timedelta(days=40)
    page = _settings(studio, open_page)
    _number(page, "Keep clips for days").set_value(30)
    click(page, "Save these days")
    assert "1 clip older than 30 days" in read(page) and "for 90 days" in read(page)
    click(page, "Drop 1 clip, keep 30 days")
    assert "for 30 days" in read(page) and "for 30 days" in read(open_page(studio.ilse, "results"))
    page = _settings(studio, open_page)
    _number(page, "Keep clips for days").set_value(60)
    click(page, "Save these days")
    assert "for 60 days" in read(page), "more days take nothing away"


def test_another_trainer_reads_and_presses_nothing(studio: Studio, open_page: Open) -> None:
    with studio.database.write() as session:
        bero = Person(name="Bero", role="trainer")
        session.add(bero)
        session.flush()
        other = Access(studio.database, studio.files, Actor(bero.id, bero.name, bero.role))
    page = open_page(other, "account", tab="Settings")
    assert "Only the owner" in read(page) and "Save these days" in labels(page)
    owners = [b for b in page.button if b.label.startswith("Save") and b.label != "Save the tempo"]
    assert owners and all(b.disabled for b in owners)
