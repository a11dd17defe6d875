"""Commands that look after the store: backup, restore, verify, tidy, and a member's own data."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from app.store.database import Database
    from app.store.files import Files
    from app.store.settings import StoreSettings

NOTE = (
    "Backups made before still hold this member: make each one again into its folder with plumbset backup, "
    "or throw it away."
)
member_app = typer.Typer(help="A member's own data: list, export, erase.", no_args_is_help=True)
Id = Annotated[
    int, typer.Argument(help="The member's number, see: plumbset member list.", show_default=False)
]


def register(cli: typer.Typer) -> None:
    """Add the store's commands to the command line."""
    for command in (backup, restore, verify, tidy):
        cli.command()(command)
    cli.add_typer(member_app, name="member")


@contextmanager
def _store() -> Iterator[tuple[Database, Files, StoreSettings]]:
    from app.store.database import migrate, open_database
    from app.store.remote import files_of
    from app.store.settings import store_settings

    before = os.umask(0o077)  # what is written is for its owner alone
    try:
        settings = store_settings()
        database = open_database(settings.database_url)
        try:
            migrate(database)
            yield database, files_of(settings), settings
        finally:
            database.close()
    finally:
        os.umask(before)


def backup(
    folder: Annotated[Path, typer.Argument(help="An empty folder, or that of an earlier backup.")],
) -> None:
    """Put the store and its files into a folder, also while the page runs."""
    from app.store.backup import backup as make

    with _store() as (database, files, _):
        kept = make(database, files, folder)
    typer.echo(f"Kept {kept.people} people, {kept.sets} sets and {kept.files} files in {folder}.")
    if kept.missing:
        typer.echo(f"{kept.missing} files were missing from the data folder; run plumbset verify.")


def restore(
    folder: Annotated[Path, typer.Argument(help="The folder that plumbset backup wrote.")],
    replace: Annotated[bool, typer.Option("--replace", help="Also where the store is not empty.")] = False,
) -> None:
    """Put a backup in the store's place; everyone signs in again, members need new links."""
    from app.store.backup import restore as put_back

    with _store() as (database, files, _):
        kept = put_back(folder, database, files=files, replace=replace)
    typer.echo(f"Restored {kept.people} people, {kept.sets} sets and {kept.files} files.")
    typer.echo("Everyone signs in again; give members new links.")


def verify(
    quick: Annotated[bool, typer.Option("--quick", help="Do not read every file.")] = False,
    drop_unused: Annotated[
        bool, typer.Option("--drop-unused", help="Remove files that nothing in the store points at.")
    ] = False,
) -> None:
    """Hold the store against its files; exit code 1 when something is wrong."""
    from app.store import verify as verifying

    with _store() as (database, files, _):
        found = verifying.verify(database, files, not quick)
        for problem in found.problems:
            typer.echo(problem)
        dropped = verifying.drop_unused(database, files, found.unused) if drop_unused else 0
    typer.echo(f"{found.sets} sets and {found.files} files looked at, {len(found.problems)} problems.")
    if found.unused:
        done = f"{dropped} removed" if drop_unused else "--drop-unused removes them"
        typer.echo(f"{len(found.unused)} files nothing points at; {done}.")
    if found.problems:
        raise typer.Exit(1)


def tidy(
    days: Annotated[
        int | None, typer.Option(help="Drop clips sent more than so many days ago.", min=1, max=36_500)
    ] = None,
) -> None:
    """Drop clips past their time (the page does so every hour: 90 days, or PLUMBSET_KEEP_CLIPS_DAYS)."""
    from app.store.retention import tidy as drop

    with _store() as (database, files, settings):
        dropped = drop(database, files, settings.keep_clips_days if days is None else days)
    typer.echo(f"{dropped} clips dropped; their reports and numbers are kept.")


@member_app.command("list")
def list_members() -> None:
    """List the members with their numbers and when they agreed to being filmed."""
    from sqlalchemy import select

    from app.store.models import Person

    with _store() as (database, _, _settings), database.read() as session:
        people = session.scalars(select(Person).where(Person.role == "member", Person.active)).all()
    for person in people:
        agreed = f"agreed {person.consent_at:%Y-%m-%d}" if person.consent_at else "has not agreed yet"
        typer.echo(f"{person.id:5}  {person.name}  ({agreed})")


@member_app.command("export")
def export(
    person_id: Id,
    out: Annotated[Path, typer.Option(help="The archive to write, such as member.zip.")],
    with_clips: Annotated[
        bool, typer.Option("--with-clips", help="Also the clips as sent, faces visible.")
    ] = False,
) -> None:
    """Write all that is kept of a member into one archive, faces hidden."""
    from app.store.export import export_member

    with _store() as (database, files, _):
        count = export_member(database, files, person_id=person_id, archive=out, with_clips=with_clips)
    typer.echo(f"{count} files in {out}.")


@member_app.command("erase")
def erase_member(
    person_id: Id,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
) -> None:
    """Erase a member for good: sets, clips, pictures, notes, links, name."""
    from app.store.retention import erase

    with _store() as (database, files, _):
        if not yes:
            typer.confirm(f"Erase all that is kept of member {person_id} for good?", abort=True)
        dropped = erase(database, files, person_id)
    typer.echo(f"Member {person_id} is erased, {dropped} files with them.")
    typer.echo(NOTE)
