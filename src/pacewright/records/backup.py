"""Backups: one archive with every row as a line of JSON and every recording, whichever database is in use.

The rows are read in one transaction that sees a single moment while others go on writing. The table of
contents
(`manifest.json`, written last) holds the hash and the count of everything. A backup is checked as a whole and
built up in a database beside the real one before any row of that is touched; then all rows change in one
transaction. So a restore that is killed leaves the desk as it was.
"""

from __future__ import annotations

import hashlib
import json
import tempfile
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from uuid import UUID

from sqlalchemy import Connection, delete, func, insert, select, text, update
from sqlalchemy.exc import SQLAlchemyError

from pacewright.core.errors import PacewrightError, RecordError
from pacewright.records.engine import Database
from pacewright.records.erase import erase_rows, erased_players
from pacewright.records.files import BLOCK, FileStore, written_whole
from pacewright.records.migrate import current, head, revisions, upgrade, upgrade_connection
from pacewright.records.rows import as_table, decode, encode, in_parts, kinds, read_all
from pacewright.records.schema import (
    TABLES,
    Digest,
    Job,
    JournalEntry,
    Login,
    MeasuredStroke,
    Player,
    Recording,
    Row,
    Setting,
    UndoStep,
    Upload,
    User,
)
from pacewright.records.schema.base import now

FORMAT = "pacewright.backup/1"
MANIFEST = "manifest.json"
LARGEST_MANIFEST = 256 << 20
KEPT = tuple(table for table in TABLES if table not in (Login, MeasuredStroke))
"""Log-ins are not kept: after a restore everybody logs in again. Nor is what a running job has measured so
far: it runs again."""
PEOPLE = tuple(table for table in KEPT if table not in (Setting, UndoStep, User, Upload, Job, JournalEntry))
"""What is known of players, and the greens they play on: without what belongs to the desk itself."""


@dataclass(frozen=True, slots=True)
class BackupInfo:
    """What a backup says of itself."""

    name: str
    size: int
    manifest: Mapping[str, Any]


def make_backup(database: Database, files: FileStore, path: Path) -> BackupInfo:
    """Write a backup of one moment to ``path``, whole or not at all. Others may go on writing.

    Raises RecordError when a recording is missing or damaged: a backup that lacks it would be a false
    comfort.
    """
    with (
        written_whole(path) as part,
        zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
    ):
        with database.snapshot() as connection:
            revision = current(connection)
            tables = {}
            for table in KEPT:
                of = table.metadata.tables[table.__tablename__]
                tables[of.name] = _write_rows(archive, connection, of)
            hashes = sorted(set(connection.scalars(select(Recording.sha256))))
            players = [str(one) for one in connection.scalars(select(Player.id).order_by(Player.id))]
        recordings = {sha256: _write_file(archive, files.checked(sha256), sha256) for sha256 in hashes}
        manifest = {
            "format": FORMAT, "made_at": now().isoformat(), "revision": revision, "tables": tables,
            "recordings": recordings, "players": players,
        }  # fmt: skip
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
    return BackupInfo(path.name, path.stat().st_size, manifest)


def read_manifest(path: Path) -> BackupInfo:
    """What a backup says of itself. Raises RecordError for a file that is none."""
    try:
        with zipfile.ZipFile(path) as archive:
            if archive.getinfo(MANIFEST).file_size > LARGEST_MANIFEST:
                raise RecordError(f"'{path.name}' is not a backup: its table of contents is too large.")
            manifest = json.loads(archive.read(MANIFEST))
            if manifest["format"] != FORMAT:
                raise KeyError
            return BackupInfo(path.name, path.stat().st_size, manifest)
    except (OSError, KeyError, TypeError, ValueError, zipfile.BadZipFile):
        raise RecordError(f"'{path.name}' is not a whole backup of Pacewright.") from None


def check_backup(path: Path) -> BackupInfo:
    """Read all of a backup and compare hashes and counts. Raises RecordError for the first that differs."""
    info = read_manifest(path)
    with zipfile.ZipFile(path) as archive:
        for name, told in info.manifest["tables"].items():
            count = sum(1 for _ in _lines(archive, name, told))
            if count != told["rows"]:
                raise RecordError(
                    f"'{path.name}': {name} has {count} rows, not the {told['rows']} it should have."
                )
        for sha256 in info.manifest["recordings"]:
            if _hash_entry(archive, f"recordings/{sha256}") != sha256:
                raise RecordError(f"'{path.name}': the recording {sha256[:12]}… in it is damaged.")
    return info


def restore_backup(database: Database, files: FileStore, path: Path) -> BackupInfo:
    """Put the desk back to where a backup has it. Players that were erased since stay erased.

    Raises RecordError for a backup that is damaged or made by a newer version; then nothing has changed.
    """
    info = check_backup(path)
    revision = info.manifest["revision"]
    if revision not in revisions():
        raise RecordError(
            f"'{path.name}' was made by a newer version of Pacewright; bring Pacewright up to date."
        )
    with tempfile.TemporaryDirectory(prefix="restore-", dir=files.incoming) as folder:
        beside = Database(None, Path(folder))
        try:
            _build(beside, info, path)
            with zipfile.ZipFile(path) as archive:
                for sha256 in info.manifest["recordings"]:
                    if not files.has(sha256):
                        files.put(_blocks(archive, f"recordings/{sha256}"), expected=sha256)
            _swap_in(database, beside)
        finally:
            beside.close()
    return info


def _build(beside: Database, info: BackupInfo, path: Path) -> None:
    """Build the database of a backup beside the real one, bring it up to date, and check it."""
    try:
        with beside.write() as transaction:
            connection = transaction.connection()
            upgrade_connection(connection, info.manifest["revision"])
            with zipfile.ZipFile(path) as archive:
                for name, told in info.manifest["tables"].items():
                    target = as_table(name, told["columns"])
                    rows = (decode(body, told["columns"]) for body in _lines(archive, name, told))
                    for part in in_parts(rows):
                        connection.execute(insert(target), part)
        upgrade(beside)
    except SQLAlchemyError as error:
        raise RecordError(
            f"'{path.name}' does not fit together ({type(error).__name__}); nothing was changed."
        ) from error
    with beside.read() as transaction:
        connection = transaction.connection()
        for name, told in info.manifest["tables"].items():
            count = connection.scalar(text(f'SELECT count(*) FROM "{name}"'))
            if count != told["rows"]:
                raise RecordError(f"'{path.name}': {count} rows of {name} were built of {told['rows']}.")
        if (
            connection.scalar(text("PRAGMA integrity_check")) != "ok"
            or connection.execute(text("PRAGMA foreign_key_check")).first()
        ):
            raise RecordError(f"'{path.name}' does not fit together; nothing was changed.")


def _swap_in(database: Database, beside: Database) -> None:
    """Change all rows of the real database for those built beside it, in one transaction."""
    with database.write() as transaction:
        connection = transaction.connection()
        if database.engine.dialect.name == "postgresql":
            names = ", ".join(f'"{table.__tablename__}"' for table in TABLES)
            connection.execute(text(f"LOCK TABLE {names} IN ACCESS EXCLUSIVE MODE"))
        erased = [
            (player, encode(_columns_of(entry), kinds(JournalEntry.metadata.tables["journal"])))
            for player, entry in erased_players(transaction)
        ]
        # Whoever keeps figures in memory goes by their version: those of the backup become the newest.
        newer = 1 + (transaction.scalar(select(func.max(Player.figures_version))) or 0)
        transaction.expunge_all()
        for table in reversed(TABLES):
            connection.execute(delete(table.metadata.tables[table.__tablename__]))
        copy_rows(beside, connection)
        for name in (Player.__tablename__, Digest.__tablename__):
            of = Row.metadata.tables[name]
            connection.execute(update(of).values(figures_version=of.columns["figures_version"] + newer))
        for player_id, entry in erased:
            erase_rows(transaction, player_id)
            _keep_entry(connection, entry)


def copy_rows(source: Database, target: Connection, tables: Sequence[type[Row]] = KEPT) -> int:
    """Copy every row of ``tables`` from an up-to-date database into one that has none of them; returns how
    many."""
    count = 0
    with source.snapshot() as reading:
        if current(reading) != head():
            raise RecordError("Only a database that is up to date can be copied.")
        for table in tables:
            of = table.metadata.tables[table.__tablename__]
            for part in in_parts(read_all(reading, of)):
                target.execute(insert(of), part)
                count += len(part)
    return count


def _keep_entry(connection: Connection, entry: Mapping[str, Any]) -> None:
    of = JournalEntry.metadata.tables["journal"]
    row = decode(dict(entry), kinds(of))
    there = connection.scalar(select(func.count()).select_from(of).where(of.columns["id"] == row["id"]))
    if not there:
        connection.execute(insert(of), row)


def _columns_of(entry: JournalEntry) -> dict[str, Any]:
    return {column.name: getattr(entry, column.name) for column in JournalEntry.__table__.columns}


def _write_rows(archive: zipfile.ZipFile, connection: Connection, of: Any) -> dict[str, Any]:
    columns = kinds(of)
    digest, count = hashlib.sha256(), 0
    with archive.open(f"tables/{of.name}.jsonl", "w", force_zip64=True) as stream:
        for row in read_all(connection, of):
            line = (
                json.dumps(encode(row, columns), ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
            )
            digest.update(line)
            stream.write(line)
            count += 1
    return {"rows": count, "sha256": digest.hexdigest(), "columns": columns}


def _write_file(archive: zipfile.ZipFile, path: Path, sha256: str) -> int:
    """A recording as it is: pictures and sound do not get smaller."""
    info = zipfile.ZipInfo(f"recordings/{sha256}")
    with path.open("rb") as source, archive.open(info, "w", force_zip64=True) as target:
        while block := source.read(BLOCK):
            target.write(block)
    return path.stat().st_size


def _lines(archive: zipfile.ZipFile, name: str, told: Mapping[str, Any]) -> Iterator[Any]:
    """The rows of a table in a backup; at the end the hash must be the one that was told."""
    digest = hashlib.sha256()
    try:
        with archive.open(f"tables/{name}.jsonl") as stream:
            for line in stream:
                digest.update(line)
                yield json.loads(line)
    except (KeyError, ValueError, EOFError, OSError, zipfile.BadZipFile) as error:
        if isinstance(error, PacewrightError):
            raise
        raise RecordError(f"The table {name} in the backup is damaged or missing.") from None
    if digest.hexdigest() != told["sha256"]:
        raise RecordError(f"The table {name} in the backup does not have its hash: it is damaged.")


def _blocks(archive: zipfile.ZipFile, name: str) -> Iterator[bytes]:
    try:
        with archive.open(name) as stream:
            yield from _read_blocks(stream)
    except (KeyError, EOFError, OSError, zipfile.BadZipFile):
        raise RecordError(f"'{name}' in the archive is damaged or missing.") from None


def _read_blocks(stream: IO[bytes]) -> Iterator[bytes]:
    while block := stream.read(BLOCK):
        yield block


def _hash_entry(archive: zipfile.ZipFile, name: str) -> str:
    digest = hashlib.sha256()
    for block in _blocks(archive, name):
        digest.update(block)
    return digest.hexdigest()


def holds_player(info: BackupInfo, player_id: UUID) -> bool:
    """Whether a backup holds a player."""
    return str(player_id) in info.manifest["players"]
