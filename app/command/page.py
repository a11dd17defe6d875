"""``plumbset app`` and ``plumbset demo-studio``: the page and its workers on this machine."""

from __future__ import annotations

import errno
import os
import signal
import socket
import subprocess
import sys
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from app.reading.failures import EXIT_OK, EXIT_OURS
from shared.errors import InternalError, UsageError

if TYPE_CHECKING:
    from app.page.studio import Door
    from app.store.settings import StoreSettings

#: How long, in s, a clip that is nearly done may hold up the end.
LAST_WAIT_S = 5.0
#: So many ports are tried in turn where the first is busy.
PORTS = 100
ENDED = "The page ended by itself (code {code}); all that was acknowledged is kept, start it again."

Host = Annotated[str, typer.Option(help="Where to listen; anything but this machine needs sign-in.")]
Port = Annotated[int, typer.Option(help="The port to listen on, or the next free one.", min=1, max=65_535)]
Workers = Annotated[int, typer.Option(help="Clips checked at the same time.", min=1, max=16)]
SignIn = Annotated[
    bool | None,
    typer.Option(
        "--sign-in/--no-sign-in",
        help="Everyone signs in, no link is printed; or nobody does: for your own laptop alone.",
        show_default="a link that is printed",
    ),
]
OPEN = (
    "Without sign-in: whoever uses this machine, and every program on it, is the trainer. For your own "
    "laptop alone; behind a proxy the whole network would be."
)


def register(cli: typer.Typer) -> None:
    """Add the page's commands to the command line."""
    cli.command("app")(app_command)
    cli.command("demo-studio")(demo_command)


def app_command(
    host: Host = "127.0.0.1", port: Port = 8501, workers: Workers = 1, sign_in: SignIn = None
) -> None:
    """Open the page: trainers review, members send their sets."""
    from app.store.settings import store_settings

    door = door_of(host, sign_in)
    run_page(store_settings().data, host, _free_port(port, host), workers, door)


def door_of(host: str, sign_in: bool | None) -> Door:
    """How people come in; UsageError where nobody would sign in beyond this machine."""
    from app.page.studio import LOOPBACK, not_beyond

    if sign_in is False:
        not_beyond("open", host)
        return "open"
    return "sign-in" if sign_in or host not in LOOPBACK else "link"


def demo_command(
    folder: Annotated[Path, typer.Option(help="Where the demo studio is kept.")] = Path("result/demo-studio"),
    port: Port = 8501,
    throw_away: Annotated[bool, typer.Option("--throw-away", help="Remove the demo studio.")] = False,
) -> None:
    """Open the page on an invented studio, in a store of its own."""
    from app.page.demo_studio import build, remove

    if throw_away:
        remove(folder)
        typer.echo("The demo studio is gone.")
        return
    port = _free_port(port, "127.0.0.1")
    use_store(folder)
    for line in build(folder):
        typer.echo(line)
    run_page(folder.absolute(), "127.0.0.1", port, 1, "link")


def use_store(folder: Path) -> None:
    """Let this process and its children use the demo studio in that folder, and nothing else."""
    from app.page.studio import DEMO
    from app.store.settings import DATA, DATABASE_URL, FILES_URL, SCHEDULER

    os.environ[DATA], os.environ[DEMO] = str(folder.absolute()), "1"
    for name in (DATABASE_URL, FILES_URL, SCHEDULER):
        os.environ.pop(name, None)


def run_page(data: Path, host: str, port: int, workers: int, door: Door) -> None:
    """Bring the store up to date, then run the page and its workers until stopped."""
    from app.page.studio import DOOR, LOOPBACK, this_studio
    from app.store import signin
    from app.store.database import migrate

    os.umask(0o077)
    os.environ[DOOR] = door
    studio = this_studio()
    migrate(studio.database)
    _ = studio.provider  # credentials that cannot be used are told before anything starts
    code = signin.offer_first_code(studio.database)
    if (
        host not in LOOPBACK
        and code is None
        and not any(t.password or (t.email and studio.provider) for t in signin.trainers(studio.database))
    ):
        raise UsageError(
            "To listen beyond this machine a trainer needs a password: "
            "run plumbset app here first and set one under Studio."
        )
    link = signin.new_start(studio.database, with_link=door == "link")
    _greet(f"http://{_named(host)}:{port}", code, link, data, studio.days_kept())
    if door == "open":
        typer.echo(OPEN)
    _serve(host, port, studio.settings, workers)


def _serve(host: str, port: int, settings: StoreSettings, workers: int) -> None:
    """The page and its workers, until stopped; InternalError when the page ends by itself."""
    from app.jobs.runner import Runner

    runner = Runner(settings, workers)
    working = threading.Thread(target=runner.run, name="runner", daemon=True)
    working.start()
    signal.signal(signal.SIGTERM, _interrupt)
    command = [sys.executable, "-m", "app.serve", "--host", host, "--port", str(port)]
    page = subprocess.Popen(command, stdin=subprocess.PIPE)
    failed = ""
    try:
        failed = ENDED.format(code=page.wait())
    except KeyboardInterrupt:
        typer.echo("Stopping; a clip that is being checked is taken up again next time.")
    finally:
        runner.stop()
        page.terminate()
        page.wait()
        working.join(LAST_WAIT_S)
        if working.is_alive():  # in the middle of a clip: its worker ends with this process
            if failed:
                typer.echo(f"plumbset: {failed}", err=True)
            os._exit(EXIT_OURS if failed else EXIT_OK)
    if failed:
        raise InternalError(failed)


def _interrupt(*_: object) -> None:
    raise KeyboardInterrupt


def _named(host: str) -> str:
    return "localhost" if host in ("127.0.0.1", "0.0.0.0", "::", "::1") else host


def _greet(address: str, code: str | None, link: str | None, data: Path, days: int) -> None:
    """link: the secret of this start; whoever opens it is the studio's owner until the next start."""
    typer.echo(f"Plumbset is at {address}   (Ctrl+C stops it)")
    typer.echo(f"Clips and notes are kept in {data}; clips as they were sent for {days} days")
    if link is not None:
        typer.echo("This link lets the owner in, until the next start; hand it to nobody:")
        typer.echo(f"{address}/enter/{link}")
    if code is not None:
        typer.echo(f"First start. Your one-time code to become the trainer: {code}")


def _free_port(port: int, host: str) -> int:
    """The port, or the next one that is free, which is told. Fails early where the page cannot run.

    Raises
    ------
    ModuleNotFoundError : a package of the page is missing. UsageError : no port can be had.
    """
    import streamlit  # noqa: F401

    for free in range(port, min(port + PORTS, 65_536)):
        trouble = _trouble_at(free, host)
        if trouble is None:
            if free != port:
                typer.echo(f"Port {port} is busy; taking the next free one, {free}.")
            return free
        if trouble.errno != errno.EADDRINUSE:
            raise UsageError(f"Port {free} cannot be used ({trouble.strerror}); choose another with --port.")
    raise UsageError(f"Port {port} and those after it are busy; choose another with --port.")


def _trouble_at(port: int, host: str) -> OSError | None:
    """Why nothing can listen there; None where it can."""
    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            return error
    return None
