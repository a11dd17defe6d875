"""Commands that look after the store: backup, restore, verify, tidy, and a member's own data."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shared.errors import UsageError

if TYPE_CHECKING:
    from app.store.database import Database
    from app.store.files import Files
    from app.store.settings import StoreSettings

NOTE = (
    "Backups made before still hold this member: make each one again into its folder with plumbset backup, "
    "or throw it away. Known are:"
)
NOT_FINISHED = (
    "Erasing is not finished: a check, an upload or a reader was at it just now. The page finishes it within "
    "three hours; or run plumbset tidy then, until this is not said any more. Not finished: member "
)
member_app = typer.Typer(help="A member's own data: list, export, erase.", no_args_is_help=True)
Id = Annotated[
    int, typer.Argument(help="The member's number, see: plumbset member list.", show_default=False)
]


def register(cli: typer.Typer) -> None:
    """Add the store's commands to the command line."""
    for command in (backup, restore, verify, tidy):
        cli.command()(command)
    cli.command("backup-key")(backup_key)
    cli.add_typer(member_app, name="member")


@contextmanager
def opened_store() -> Iterator[tuple[Database, Files, StoreSettings]]:
    """The store, its files and its settings, for the length of a command."""
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


KeyFile = Annotated[
    Path | None, typer.Option("--key-file", help="Seal with the key in this file, see: plumbset backup-key.")
]


def backup(
    folder: Annotated[Path, typer.Argument(help="An empty folder, or that of an earlier backup.")],
    key_file: KeyFile = None,
) -> None:
    """Put the store and its files into a folder, also while the page runs; exit code 1 when one is lost."""
    from app.store.backup import backup as make
    from app.store.database import StoreTrouble
    from app.store.erasing import note_backup
    from app.store.sealed import seal_of

    seal = seal_of(key_file)
    if key_file is not None and folder.resolve() in key_file.resolve().parents:
        raise UsageError("The key lies in the backup's own folder; keep it somewhere else.")
    with opened_store() as (database, files, _):
        kept = make(database, files, folder, seal)
        with suppress(StoreTrouble):  # a store that takes nothing any more is backed up all the same
            note_backup(database, folder)
    for problem in kept.problems:
        typer.echo(problem)
    typer.echo(f"Kept {kept.people} people, {kept.sets} sets and {kept.files} files in {folder}.")
    if kept.problems:
        typer.echo("All else is kept; run plumbset verify, and keep an older backup that has these files.")
        raise typer.Exit(1)


def restore(
    folder: Annotated[Path, typer.Argument(help="The folder that plumbset backup wrote.")],
    replace: Annotated[bool, typer.Option("--replace", help="Also where the store is not empty.")] = False,
    key_file: KeyFile = None,
) -> None:
    """Put a backup in the store's place; everyone signs in again, members need new links."""
    from app.store.restore import restore as put_back
    from app.store.sealed import seal_of

    seal = seal_of(key_file)
    with opened_store() as (database, files, _):
        kept = put_back(folder, database, files=files, replace=replace, seal=seal)
    for problem in kept.problems:
        typer.echo(problem)
    typer.echo(f"Restored {kept.people} people, {kept.sets} sets and {kept.files} files.")
    for number in kept.erased:
        typer.echo(
            f"Of these, member {number} was erased here after that backup was made, and is erased again."
        )
    typer.echo("Everyone signs in again; give members new links.")
    if kept.problems:
        raise typer.Exit(1)


def backup_key(place: Annotated[Path, typer.Argument(help="The file to make.")]) -> None:
    """Make a key for sealed backups; without it nothing in them can be read again."""
    from app.store.sealed import make_key

    make_key(place)
    typer.echo(f"The key is in {place}. Keep a copy away from the backups: without it they cannot be opened.")


def verify(
    quick: Annotated[bool, typer.Option("--quick", help="Do not read every file.")] = False,
    drop_unused: Annotated[
        bool, typer.Option("--drop-unused", help="Remove files that nothing in the store points at.")
    ] = False,
) -> None:
    """Hold the store against its files; exit code 1 when something is wrong."""
    from app.store import verify as verifying

    with opened_store() as (database, files, _):
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
    """Drop clips past their time (the page does so every hour: 90 days, or what Studio on the page says)."""
    from app.store.bin import empty_bin
    from app.store.erasing import finish_erasing, unfinished
    from app.store.retention import tidy as drop
    from app.store.room import days_kept

    with opened_store() as (database, files, settings):
        dropped = drop(
            database, files, days_kept(database, settings.keep_clips_days) if days is None else days
        )
        empty_bin(database, files)
        finish_erasing(database, files)
        left = unfinished(database)
    typer.echo(f"{dropped} clips dropped; their reports and numbers are kept.")
    _say_unfinished(left)


def _say_unfinished(numbers: list[int]) -> None:
    if numbers:
        typer.echo(NOT_FINISHED + ", ".join(map(str, numbers)) + ".")


@member_app.command("list")
def list_members() -> None:
    """List the members with their numbers and when they agreed to being filmed."""
    from sqlalchemy import select

    from app.store.models import Person

    with opened_store() as (database, _, _settings), database.read() as session:
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

    with opened_store() as (database, files, _):
        count = export_member(database, files, person_id=person_id, archive=out, with_clips=with_clips)
    typer.echo(f"{count} files in {out}.")


@member_app.command("erase")
def erase_member(
    person_id: Id,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
) -> None:
    """Erase a member for good: sets, clips, pictures, notes, links, name."""
    from app.store.erasing import backups_made, erase, unfinished

    with opened_store() as (database, files, _):
        if not yes:
            typer.confirm(f"Erase all that is kept of member {person_id} for good?", abort=True)
        dropped = erase(database, files, person_id)
        left, backups = unfinished(database), backups_made(database)
    typer.echo(f"Member {person_id} is erased, {dropped} files with them.")
    _say_unfinished(left)
    typer.echo(NOTE)
    for made in backups:
        typer.echo(f"  {made.place} ({made.at:%Y-%m-%d})")
    typer.echo("  and copies of these, or of the data folder, that were made by other means.")
