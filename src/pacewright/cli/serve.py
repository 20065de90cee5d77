"""`pacewright serve`: the coach's desk in the browser."""

from __future__ import annotations

import importlib
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from pacewright.core.errors import SettingsError

command = typer.Typer(add_completion=False)
SERVER = "pacewright.web.run"
"""Where the server is started: named, not imported, for the command line and the web know nothing of each
other (docs/decisions)."""
PASSWORD_VARIABLE = "PACEWRIGHT_PASSWORD"


@command.command()
def serve(
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port to listen on.")] = 8780,
    data: Annotated[Path | None, typer.Option(help="Data folder; one of yours if left out.")] = None,
    database: Annotated[
        str | None, typer.Option(help="PostgreSQL (postgresql://user@host/name) in place of a file.")
    ] = None,
    host: Annotated[str, typer.Option(help="Address; 0.0.0.0 opens the desk to the network.")] = "127.0.0.1",
    tls: Annotated[
        bool | None, typer.Option("--tls/--no-tls", help="Encrypt, with a certificate made on the spot.")
    ] = None,
    demo: Annotated[bool, typer.Option("--demo", help="Fill an empty desk with the invented club.")] = False,
    set_password: Annotated[
        str, typer.Option(metavar="NAME", help="Set the password of this coach, and leave.")
    ] = "",
    allow_host: Annotated[
        list[str] | None, typer.Option(help="A further name by which the desk is addressed.")
    ] = None,
    behind_proxy: Annotated[
        bool, typer.Option("--behind-proxy", help="A proxy on this machine says who asks.")
    ] = False,
    workers: Annotated[int, typer.Option(min=0, max=16, help="Processes that analyse recordings.")] = 1,
) -> None:
    """Open the coach's desk in the browser, on this machine alone unless told otherwise.

    On any other address everybody has to log in: set a password first. It is read from the terminal, or from
    the environment variable PACEWRIGHT_PASSWORD.
    """
    folder = data if data is not None else _own_folder()
    if set_password:
        _set_password(folder, database, set_password)
        return
    if demo:
        _make_demo_club(folder, database)
    importlib.import_module(SERVER).serve(
        folder, host=host, port=port, database_url=database, tls=tls, behind_proxy=behind_proxy,
        extra_hosts=tuple(allow_host or ()), workers=workers,
    )  # fmt: skip


def _own_folder() -> Path:
    import platformdirs

    return platformdirs.user_data_path("pacewright", appauthor=False) / "desk"


def _set_password(folder: Path, database: str | None, name: str) -> None:
    from pacewright.app.desk.desk import Desk

    password = os.environ.get(PASSWORD_VARIABLE) or _asked_password()
    with Desk.open(folder, database) as desk:
        plain = " ".join(name.split()).casefold()
        known = next((user for user in desk.users.list() if user.name == plain), None)
        if known is None:
            desk.users.create(name, password, "coach")
            typer.echo(f"{plain} can log in now.")
        else:
            desk.users.set_password(known.id, password)
            typer.echo(f"{plain} has a new password; log-ins with the old one have ended.")


def _asked_password() -> str:
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    import getpass

    password = getpass.getpass("Password: ")
    if getpass.getpass("Once more: ") != password:
        raise SettingsError("The two are not the same; nothing has changed.")
    return password


def _make_demo_club(folder: Path, database: str | None) -> None:
    from pacewright.app.desk.demo_club import seed_demo_club
    from pacewright.app.desk.desk import Desk

    with Desk.open(folder, database) as desk:
        if desk.players.list(limit=1).items:
            typer.echo("There are players here already; the demo club stays away.")
            return
        typer.echo("Making the invented club with a year of sessions; this takes a little.")
        seed_demo_club(desk)
