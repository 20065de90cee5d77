"""`pacewright desk`: backups, and a player's data on its way out and in, without the browser."""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any
from uuid import UUID

import typer

from pacewright.cli.serve import own_folder
from pacewright.core.errors import NotFoundError, SettingsError

if TYPE_CHECKING:
    from pacewright.app.desk.desk import Desk

command = typer.Typer(
    add_completion=False, no_args_is_help=True, rich_markup_mode=None,
    help="Backups, and a player's data on its way out and in. All of it may be done while the desk is open.",
)  # fmt: skip
Data = Annotated[Path | None, typer.Option(help="Data folder; one of yours if left out.")]
Database = Annotated[
    str | None, typer.Option(help="PostgreSQL (postgresql://user@host/name) in place of a file.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON.")]
Who = Annotated[str, typer.Argument(metavar="PLAYER", help="Name of the player, or its id.")]


@command.command()
def backup(
    file: Annotated[Path | None, typer.Argument(help="Where to; a new file of the data folder.")] = None,
    data: Data = None,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Write a backup of everything, and read it again to check it."""
    if file is not None:
        _must_be_new(file)
    with _opened(data, database) as desk:
        made = desk.backups.make(file)
        path = file or desk.backups.folder / made.name
        desk.backups.check(path)
    _tell(made, as_json, f"{path}: {made.rows} rows and {made.recordings} recordings, read again and whole.")


@command.command()
def check(file: Annotated[Path, typer.Argument(help="A backup.")], as_json: AsJson = False) -> None:
    """Read all of a backup and compare its hashes and counts."""
    from pacewright.app.desk.privacy import check_backup

    found = check_backup(file)
    _tell(found, as_json, f"{file}: {found.rows} rows and {found.recordings} recordings, whole.")


@command.command()
def restore(
    file: Annotated[Path, typer.Argument(help="A backup, made here or on another machine.")],
    data: Data = None,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Put the desk back to a backup; how it stands now is kept as another backup first.

    A new folder becomes the desk of the backup. Players that were erased here since stay erased. A damaged
    file changes nothing.
    """
    from pacewright.app.desk.privacy import check_backup

    check_backup(file)
    with _opened(data, database, new=True) as desk:
        back = desk.backups.restore(file)
        before = desk.backups.list()[0].name
    told = f"The desk is as {file} has it: {back.rows} rows and {back.recordings} recordings."
    _tell(back, as_json, f"{told} As it was before: {before}")


@command.command()
def export(
    who: Who,
    file: Annotated[Path, typer.Argument(help="Package to write (ZIP with JSON, CSV and recordings).")],
    data: Data = None,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Write all of one player's data as an open package."""
    _must_be_new(file)
    with _opened(data, database) as desk:
        player_id = _player(desk, who)
        desk.privacy.export(player_id, file)
    _tell({"player_id": player_id, "file": file, "size": file.stat().st_size}, as_json, f"{file} is written.")


@command.command("import")
def import_(
    file: Annotated[Path, typer.Argument(help="A package that export wrote, here or elsewhere.")],
    data: Data = None,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Take in a player's package. Importing it again changes nothing."""
    with _opened(data, database, new=True) as desk:
        brought = desk.privacy.import_package(file)
        name = desk.players.get(brought.player_id).name
    counts = f"{brought.rows_added} rows and {brought.files_added} recordings came in"
    _tell(brought, as_json, f"{name}: {counts}, {brought.rows_there_already} rows were here already.")


@command.command()
def erase(
    who: Who,
    sure: Annotated[str, typer.Option(help="The name once more; it is asked for if left out.")] = "",
    data: Data = None,
    database: Database = None,
    as_json: AsJson = False,
) -> None:
    """Erase a player for good: rows and files. Backups that still hold it are named."""
    with _opened(data, database) as desk:
        player_id = _player(desk, who)
        name = desk.players.get(player_id).name
        again = sure or typer.prompt(f"This cannot be taken back. Type the name to erase {name}", err=True)
        if " ".join(again.split()) != name:
            raise SettingsError(f"'{again}' is not the name of the player, {name}; nothing was erased.")
        gone = desk.privacy.erase(player_id)
    held = "".join(f"\nStill in the backup {one}" for one in gone.backups)
    told = f"{name} is erased: {gone.rows} rows and {gone.files} files."
    _tell(gone, as_json, " ".join([told, *gone.sentences]) + held)


@contextmanager
def _opened(data: Path | None, database: str | None, *, new: bool = False) -> Iterator[Desk]:
    """The desk of a folder, which has to be there unless it may be ``new``."""
    from pacewright.app.desk.desk import Desk

    folder = data if data is not None else own_folder()
    if not new and not folder.is_dir():
        raise SettingsError(f"There is no desk in '{folder}'; say where it is with --data.")
    with Desk.open(folder, database) as desk:
        yield desk


def _player(desk: Desk, who: str) -> UUID:
    """The player of that id, or the only one of that name."""
    try:
        return desk.players.get(UUID(who)).id
    except ValueError:
        pass
    name = " ".join(who.split())
    found = [one for one in desk.players.list(search=name, limit=200).items if one.name == name]
    if not found:
        raise NotFoundError(f"There is no player called '{name}'; give the whole name, or the id.")
    if len(found) > 1:
        raise SettingsError(
            f"Several are called '{name}'; give one id: {', '.join(str(p.id) for p in found)}."
        )
    return found[0].id


def _must_be_new(file: Path) -> None:
    if file.exists():
        raise SettingsError(f"'{file}' is there already; give another name.")


def _tell(result: Any, as_json: bool, text: str) -> None:
    if as_json:
        body = result if isinstance(result, dict) else dataclasses.asdict(result)
        print(json.dumps(body, indent=2, default=str))
    else:
        typer.echo(text)
