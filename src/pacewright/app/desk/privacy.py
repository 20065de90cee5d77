"""A player's right to its data: export, import, erasure; and backups of the whole desk."""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from uuid import UUID

from pacewright.app.desk.context import Context
from pacewright.app.desk.putts import core_putts
from pacewright.app.desk.strokes import core_strokes
from pacewright.app.desk.views import BackupView, ErasureView, ImportView
from pacewright.core.errors import NotFoundError, RecordError
from pacewright.core.outcome import Putt as CorePutt
from pacewright.core.registry import MEASURES
from pacewright.records import backup
from pacewright.records.erase import ERASED, erase_rows, wipe
from pacewright.records.package import insert_rows, read_package, rows_of_player, write_package
from pacewright.records.schema import JournalEntry, Player
from pacewright.records.schema.base import now

MOST_IN_A_TABLE = 1_000_000
_NAME = re.compile(r"^pacewright-[0-9T-]{15,40}\.zip$")
README = """This package holds what Pacewright keeps of one player.

data/         every record as JSON, one file a table; lengths in metres, times in seconds, moments in UTC
csv/          putts and strokes as tables for a spreadsheet, or for `pacewright budget csv/putts.csv`
recordings/   the recordings as they came, named by the SHA-256 of their content; data/recordings.json has
              their names
manifest.json the SHA-256 of every file
"""


class Privacy:
    """Export, import and erasure of a player."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def export(self, player_id: UUID, path: str | Path) -> Path:
        """Write all of a player's data as an open package (ZIP) to ``path``, whole or not at all.

        A player may export itself. Raises NotFoundError, RecordError when a recording is damaged.
        """
        path = Path(path)
        with self._context.read() as transaction:
            self._context.get(transaction, Player, player_id, "player")
            rows = rows_of_player(transaction, player_id)
            strokes = core_strokes(transaction, player_id, most=MOST_IN_A_TABLE)
            putts = core_putts(transaction, player_id, most=MOST_IN_A_TABLE)
        from pacewright.render.export import strokes_csv

        extra = {
            "README.txt": README.encode(),
            "csv/putts.csv": putts_csv(putts).encode(),
            "csv/strokes.csv": strokes_csv(strokes).encode(),
        }
        write_package(path, rows, player_id, self._context.files, extra)
        return path

    def import_package(self, path: str | Path) -> ImportView:
        """Take in a package that `export` wrote, here or elsewhere. Importing it again changes nothing.

        Raises RecordError for a package that is damaged or tries what it should not, LimitError for one that
        unpacks to too much, ConflictError when the player is deleted here.
        """
        self._context.must_be("coach", "assistant")
        player_id, rows, files = read_package(Path(path), self._context.files)
        with self._context.write() as transaction:
            added, there = insert_rows(transaction, player_id, rows)
            self._context.figures_changed(transaction, player_id)
            self._context.log(transaction, "import", "player", player_id, player_id, rows=added)
        return ImportView(player_id, added, there, files)

    def erase(self, player_id: UUID) -> ErasureView:
        """Erase a player for good, deleted by hand before or not: rows, files that nobody else has, and what
        the pages of the database still held. For the coach alone; it cannot be taken back.

        Backups are not changed: those that hold the player are named, to be deleted.
        """
        self._context.must_be("coach")
        with self._context.write() as transaction:
            if transaction.get(Player, player_id) is None:
                raise NotFoundError("There is no such player.")
            erased = erase_rows(transaction, player_id)
            transaction.add(
                JournalEntry(
                    made_by=self._context.actor.name, action=ERASED, target="player", target_id=player_id
                )
            )
        files = sum(self._context.files.remove(sha256) for sha256 in erased.hashes)
        for upload_id in erased.uploads:
            self._context.files.discard(upload_id)
        self._context.memory.forget(player_id)
        sentences = []
        if not wipe(self._context.database, erased.tables):
            sentences.append(
                "Somebody was reading just now, so the log of the database is emptied a little later, "
                "by itself."
            )
        holding = tuple(info.name for info in _backups(self._context) if backup.holds_player(info, player_id))
        if holding:
            sentences.append("Backups still hold this player; delete them, or make new ones in their place.")
        return ErasureView(player_id, erased.rows, files, holding, tuple(sentences))


class Backups:
    """Backups of the desk, in the folder ``backups`` of its data folder. For the coach alone."""

    def __init__(self, context: Context) -> None:
        self._context = context

    def make(self, path: str | Path | None = None) -> BackupView:
        """Make a backup while everything goes on; to ``path``, or to a new file in the folder of backups."""
        self._context.must_be("coach")
        target = Path(path) if path is not None else self.folder / _new_name()
        target.parent.mkdir(parents=True, exist_ok=True)
        return _view(backup.make_backup(self._context.database, self._context.files, target))

    def list(self) -> tuple[BackupView, ...]:
        """The backups in the folder, newest first; files that are none are left out."""
        self._context.must_be("coach")
        return tuple(_view(info) for info in _backups(self._context))

    def path(self, name: str) -> Path:
        """Where a backup lies, to download it. Raises NotFoundError."""
        self._context.must_be("coach")
        path = self.folder / name
        if not _NAME.match(name) or not path.is_file():
            raise NotFoundError("There is no such backup.")
        return path

    def check(self, path: str | Path) -> BackupView:
        """As `check_backup`."""
        return check_backup(path)

    def restore(self, path: str | Path) -> BackupView:
        """Put the desk back to a backup, after a backup of how it stands. Erased players stay erased.

        The archive is checked whole and built up beside the database first; then all rows change in one
        transaction. Raises RecordError for a backup that is damaged; then nothing has changed.
        """
        self._context.must_be("coach")
        backup.check_backup(Path(path))
        self.make()
        info = backup.restore_backup(self._context.database, self._context.files, Path(path))
        self._context.memory.clear()
        return _view(info)

    def delete(self, name: str) -> None:
        """Delete a backup for good."""
        self.path(name).unlink()

    @property
    def folder(self) -> Path:
        """Where backups lie."""
        return self._context.data_dir / "backups"


def check_backup(path: str | Path) -> BackupView:
    """Read all of a backup and compare its hashes and counts. Raises RecordError where they differ."""
    return _view(backup.check_backup(Path(path)))


def putts_csv(putts: list[CorePutt]) -> str:
    """Putts as the table that `app.outcomes_csv` reads."""
    names = [name for name in MEASURES if any(name in putt.measures for putt in putts)]
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([
        "asked_m", "finish_along_m", "finish_across_m", "holed", "guess_along_m", "block", "session", "phase",
        "beats_per_minute", "comfort", "green_speed_m", *names,
    ])  # fmt: skip
    for putt in putts:
        outcome = putt.outcome
        writer.writerow([
            putt.asked_m, outcome.along_m, outcome.across_m, "yes" if outcome.holed else "no",
            putt.guess_along_m, _harmless(putt.block), putt.session, putt.phase, putt.beats_per_minute,
            putt.comfort, None if putt.green is None else putt.green.speed_m,
            *(putt.measures[name].value if name in putt.measures else None for name in names),
        ])  # fmt: skip
    return stream.getvalue()


def _harmless(text: str) -> str:
    """Text that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r") else text


def _backups(context: Context) -> list[backup.BackupInfo]:
    found = []
    for path in sorted((context.data_dir / "backups").glob("*.zip"), reverse=True):
        try:
            found.append(backup.read_manifest(path))
        except RecordError:
            continue
    return found


def _new_name() -> str:
    return f"pacewright-{now():%Y-%m-%dT%H-%M-%S}-{now().microsecond:06d}.zip"


def _view(info: backup.BackupInfo) -> BackupView:
    manifest: Mapping[str, Any] = info.manifest
    return BackupView(
        info.name,
        info.size,
        dt.datetime.fromisoformat(manifest["made_at"]),
        manifest["revision"],
        sum(table["rows"] for table in manifest["tables"].values()),
        len(manifest["recordings"]),
    )
