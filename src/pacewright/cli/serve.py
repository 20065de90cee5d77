"""`pacewright serve`: the coach's desk in the browser."""

from __future__ import annotations

import importlib
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from pacewright.core.errors import ConflictError, SettingsError

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
    demo: Annotated[
        bool, typer.Option("--demo", help="Have an invented club made in an empty desk.")
    ] = False,
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
    folder = data if data is not None else own_folder()
    if set_password:
        _set_password(folder, database, set_password)
        return
    if demo:
        _order_demo_club(folder, database)
    importlib.import_module(SERVER).serve(
        folder, host=host, port=port, database_url=database, tls=tls, behind_proxy=behind_proxy,
        extra_hosts=tuple(allow_host or ()), workers=workers,
    )  # fmt: skip


def own_folder() -> Path:
    """Where a desk lies that was given no folder."""
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


def _order_demo_club(folder: Path, database: str | None) -> None:
    from pacewright.app.desk.desk import Desk

    with Desk.open(folder, database) as desk:
        try:
            desk.jobs.order_demo_club()
        except ConflictError as error:
            typer.echo(str(error))
        else:
            typer.echo("The invented club is made as soon as the desk is open; its page shows how far it is.")
