"""One player's data as an open package: a ZIP with JSON, CSV, recordings, and a list of hashes of all of
it."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID

from sqlalchemy import Table, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session as Transaction

from pacewright.core.errors import ConflictError, LimitError, RecordError
from pacewright.records.files import BLOCK, FileStore, written_whole
from pacewright.records.migrate import head, revisions
from pacewright.records.rows import decode, encode, in_parts, kinds
from pacewright.records.schema import (
    Analysis,
    Consent,
    Correction,
    Curve,
    DrillResult,
    Finding,
    Green,
    GreenReading,
    Guardian,
    Plan,
    Player,
    Putt,
    Putter,
    Recording,
    Row,
    Session,
    Station,
    Stroke,
    TempoBlock,
    Track,
)
from pacewright.records.schema.base import now

FORMAT = "pacewright.player/1"
MANIFEST = "manifest.json"
CARRIED: tuple[type[Row], ...] = (
    Player, Guardian, Consent, Putter, Green, GreenReading, Session, Recording, Analysis, Track, Stroke,
    Curve,
    Finding, Correction, Plan, Station, TempoBlock, Putt, DrillResult,
)  # fmt: skip
"""What goes with a player. Accounts, links, jobs and the journal belong to the desk and stay there."""
SHARED: tuple[type[Row], ...] = (Green, GreenReading)
MOST_ENTRIES = 20_000
LARGEST_DATA = 1 << 30
"""All of JSON together, unpacked."""
LARGEST_FILE = 4 << 30
_ENTRY = re.compile(
    r"^(manifest\.json|README\.txt|data/[a-z_]{1,40}\.json|csv/[a-z]{1,20}\.csv|recordings/[0-9a-f]{64})$"
)


@dataclass(frozen=True, slots=True)
class Imported:
    """What an import brought."""

    player_id: UUID
    rows_added: int
    rows_there: int
    files_added: int


def rows_of_player(transaction: Transaction, player_id: UUID) -> dict[str, list[dict[str, Any]]]:
    """Every row that goes with a player and is not deleted, by table, pointing at nothing outside."""
    found: dict[str, list[dict[str, Any]]] = {}
    for table in CARRIED:
        of = _table(table)
        if table is Green:
            wanted = {row["green_id"] for row in _rows(transaction, _table(Session), player_id)} - {None}
            statement = select(of).where(of.columns["id"].in_(wanted))
        elif table is GreenReading:
            greens = [row["id"] for row in found["greens"]]
            statement = select(of).where(of.columns["green_id"].in_(greens))
        else:
            found[of.name] = list(_rows(transaction, of, player_id))
            continue
        found[of.name] = [dict(row) for row in transaction.connection().execute(statement).mappings()]
    return _closed(found)


def write_package(
    path: Path,
    rows: Mapping[str, list[dict[str, Any]]],
    player_id: UUID,
    files: FileStore,
    extra: Mapping[str, bytes],
) -> None:
    """Write a package, whole or not at all. ``extra`` are tables for people, by name in the archive.

    Raises RecordError when a recording is missing or damaged.
    """
    with written_whole(path) as part, zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as archive:
        hashes: dict[str, str] = {}
        for table in CARRIED:
            of = _table(table)
            columns = kinds(of)
            body = [encode(row, columns) for row in rows[of.name]]
            _write(archive, hashes, f"data/{of.name}.json", json.dumps(body, ensure_ascii=False).encode())
        for name, data in extra.items():
            _write(archive, hashes, name, data)
        for sha256 in sorted({row["sha256"] for row in rows["recordings"]}):
            info = zipfile.ZipInfo(f"recordings/{sha256}")
            with (
                files.checked(sha256).open("rb") as source,
                archive.open(info, "w", force_zip64=True) as target,
            ):
                while block := source.read(BLOCK):
                    target.write(block)
            hashes[info.filename] = sha256
        manifest = {
            "format": FORMAT, "made_at": now().isoformat(), "revision": head(), "player_id": str(player_id),
            "sha256": hashes,
        }  # fmt: skip
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))


def read_package(path: Path, files: FileStore) -> tuple[UUID, dict[str, list[dict[str, Any]]], int]:
    """Check a package and put its recordings into the store; returns the player, the rows, the files added.

    Raises RecordError for a package that is damaged, made by a newer version or not one at all, LimitError
    for
    one that unpacks to more than it should.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            _check_entries(archive)
            manifest = json.loads(_read(archive, MANIFEST, LARGEST_DATA))
            if manifest["format"] != FORMAT or manifest["revision"] not in revisions():
                raise RecordError("This package was made by a newer version of Pacewright, or is none of it.")
            player_id = UUID(manifest["player_id"])
            hashes = dict(manifest["sha256"])
            rows = _read_rows(archive, hashes, player_id)
            added = _read_files(archive, hashes, rows, files)
            return player_id, rows, added
    except (
        zipfile.BadZipFile,
        KeyError,
        ValueError,
        TypeError,
        EOFError,
        OSError,
        NotImplementedError,
    ) as error:
        raise RecordError(
            f"The package is damaged or none of Pacewright's ({type(error).__name__})."
        ) from None


def insert_rows(
    transaction: Transaction, player_id: UUID, rows: Mapping[str, list[dict[str, Any]]]
) -> tuple[int, int]:
    """Insert what is not there yet; returns how many rows were added and how many were there.

    Raises ConflictError when the player is deleted here, RecordError when an identifier belongs to somebody
    else here.
    """
    there = transaction.get(Player, player_id)
    if there is not None and there.deleted_step is not None:
        raise ConflictError("This player is deleted here; take the deletion back, or erase the player first.")
    connection = transaction.connection()
    dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
    added = total = 0
    for table in CARRIED:
        of = _table(table)
        key = next(iter(of.primary_key.columns))
        _check_owners(transaction, table, rows[of.name], player_id)
        for part in in_parts(rows[of.name], 200):
            new = dialect.insert(of).values(list(part)).on_conflict_do_nothing().returning(key)
            added += len(connection.execute(new).all())
            total += len(part)
    return added, total - added


def _rows(transaction: Transaction, of: Table, player_id: UUID) -> Iterator[dict[str, Any]]:
    owner = of.columns["id"] if of.name == "players" else of.columns["player_id"]
    keys = list(of.primary_key.columns)
    statement = select(of).where(owner == player_id)
    if "deleted_step" in of.columns:
        statement = statement.where(of.columns["deleted_step"].is_(None))
    newest_first = of.name == "analyses"
    statement = statement.order_by(*(key.desc() if newest_first else key for key in keys))
    for row in transaction.connection().execute(statement).mappings():
        yield dict(row)


def _closed(found: dict[str, list[dict[str, Any]]]) -> dict[str, list[dict[str, Any]]]:
    """The rows without those that hang from something deleted, and without pointers to what is not
    carried."""
    carried: dict[str, set[Any]] = {}
    for table in CARRIED:
        of = _table(table)
        key = next(iter(of.primary_key.columns)).name
        kept = []
        carried[of.name] = {row[key] for row in found[of.name]} if of.name == "analyses" else set()
        for row in found[of.name]:
            if _point_inside(of, row, carried):
                kept.append(row)
                carried[of.name].add(row[key])
        found[of.name] = kept
    return found


def _point_inside(of: Table, row: dict[str, Any], carried: Mapping[str, set[Any]]) -> bool:
    """Clear pointers of a row to what is not carried; False when it cannot be without one."""
    for column in of.columns:
        for key in column.foreign_keys:
            value = row[column.name]
            if value is None or value in carried.get(key.column.table.name, set()):
                continue
            if not column.nullable:
                return False
            row[column.name] = None
    return True


def _write(archive: zipfile.ZipFile, hashes: dict[str, str], name: str, data: bytes) -> None:
    archive.writestr(name, data)
    hashes[name] = hashlib.sha256(data).hexdigest()


def _check_entries(archive: zipfile.ZipFile) -> None:
    names = archive.namelist()
    if len(names) > MOST_ENTRIES or len(set(names)) != len(names):
        raise RecordError("The package holds too many files, or one of them twice.")
    for name in names:
        if not _ENTRY.match(name):
            raise RecordError(f"The package holds a file that does not belong there: {name[:60]!r}.")


def _read(archive: zipfile.ZipFile, name: str, most: int) -> bytes:
    """An entry, and no more than ``most`` bytes of it whatever it says of itself."""
    with archive.open(name) as stream:
        data = stream.read(most + 1)
    if len(data) > most:
        raise LimitError(f"'{name}' in the package unpacks to more than {most >> 20} MB.")
    return data


def _read_rows(
    archive: zipfile.ZipFile, hashes: Mapping[str, str], player_id: UUID
) -> dict[str, list[dict[str, Any]]]:
    room = LARGEST_DATA
    rows: dict[str, list[dict[str, Any]]] = {}
    for table in CARRIED:
        of = _table(table)
        name = f"data/{of.name}.json"
        data = _read(archive, name, room)
        room -= len(data)
        if hashlib.sha256(data).hexdigest() != hashes[name]:
            raise RecordError(
                f"'{name}' in the package does not have its hash: it was changed or is damaged."
            )
        columns = kinds(of)
        rows[of.name] = [decode(body, columns) for body in json.loads(data)]
        for row in rows[of.name]:
            if row.get("deleted_step") is not None:
                raise RecordError("The package holds something that was deleted.")
            owner = row["id"] if table is Player else row.get("player_id")
            if table not in SHARED and owner != player_id:
                raise RecordError("The package holds something of another player.")
    if len(rows["players"]) != 1:
        raise RecordError("The package holds no player, or several.")
    return rows


def _read_files(
    archive: zipfile.ZipFile,
    hashes: Mapping[str, str],
    rows: Mapping[str, list[dict[str, Any]]],
    files: FileStore,
) -> int:
    added = 0
    for sha256 in sorted({row["sha256"] for row in rows["recordings"]}):
        name = f"recordings/{sha256}"
        if hashes.get(name) != sha256:
            raise RecordError(f"The recording {str(sha256)[:12]}… is missing in the package.")
        if files.has(sha256):
            continue
        with archive.open(name) as stream:
            files.put(iter(lambda: stream.read(BLOCK), b""), expected=sha256, most=LARGEST_FILE)
        added += 1
    return added


def _check_owners(
    transaction: Transaction, table: type[Row], rows: list[dict[str, Any]], player_id: UUID
) -> None:
    """No row of a package may stand for a row of somebody else."""
    if table in SHARED or table is Player:
        return
    of = _table(table)
    key = next(iter(of.primary_key.columns))
    for part in in_parts(rows, 2000):
        there = transaction.connection().execute(
            select(key).where(key.in_([row[key.name] for row in part]), of.columns["player_id"] != player_id)
        )
        if there.first() is not None:
            raise RecordError("The package uses an identifier that belongs to another player here.")


def _table(table: type[Row]) -> Table:
    return table.metadata.tables[table.__tablename__]
