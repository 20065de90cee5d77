"""Erasure leaves no trace, a package goes out and comes back whole, a backup brings back the desk."""

from __future__ import annotations

import hashlib
import json
import shutil
import threading
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select, text

from pacewright.app.budgets import budget_file
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest, StationRequest
from pacewright.app.desk.workers import work_once
from pacewright.core.errors import ConflictError, LimitError, NotFoundError, RecordError
from pacewright.records import package
from pacewright.records.migrate import revisions
from pacewright.records.schema import TABLES, Job, MeasuredStroke, Player
from tests.app.desk.people import add_recording, some_putts, willing_player
from tests.databases import KINDS, fresh_desk, server_folder

NAME = "Quirina Zathbury"


def full_player(desk: Desk, name: str = NAME, seed: int = 1) -> Any:
    """A player with rows in as many tables as there are."""
    player = willing_player(desk, name)
    guardian = desk.players.add_guardian(player.id, f"Parent of {name}")
    desk.consents.give(player.id, "sharing", "guardian", guardian_id=guardian.id)
    desk.players.update(player.id, None, notes=f"{name} hurries")
    green = desk.greens.create(f"Green {seed}", 3.0)
    putter = desk.putters.create(player.id, f"Blade of {name}")
    session = desk.sessions.create(player.id, green_id=green.id, putter_id=putter.id, note=f"with {name}")
    recording = add_recording(desk, session, seed=seed, name=f"{name}.csv")
    work_once(desk._context)
    stroke = desk.strokes.list(recording_id=recording.id).items[4]
    desk.strokes.move_event(stroke.id, "takeaway", stroke.events["takeaway"].value - 0.02)
    desk.putts.add(session.id, some_putts(8, prefix=f"{seed}-"))
    desk.putts.pair(session.id)
    desk.putts.comfort(session.id, "a", 80.0, 4.0)
    desk.stations.keep(player.id, StationRequest((3.0,), green.id), session_id=session.id)
    desk.plans.make(player.id, PlanRequest((3.0,), session.held_on))
    desk.plans.add_drill_result(session.id, "ladder", {"points": 3})
    desk.story.of_player(player.id)
    desk.sharing.create(player.id, label=f"phone of {name}")
    desk.users.create(name, "four quiet words here", "player", player_id=player.id)
    desk.users.log_in(name, "four quiet words here")
    upload = desk.uploads.begin(session.id, f"{name}-2.csv", 100)
    desk.uploads.append(upload.id, 0, name.encode())
    desk.putts.delete(desk.putts.list(session_id=session.id).items[0].id)
    with desk._context.write() as transaction:  # as a job leaves it whose worker died
        (job,) = transaction.scalars(select(Job).where(Job.recording_id == recording.id))
        transaction.add(
            MeasuredStroke(
                job_id=job.id, number=0, player_id=player.id, session_id=session.id, kind="putt", measures={}
            )
        )  # fmt: skip
    return player


def _counts(desk: Desk) -> dict[str, int]:
    with desk._context.read() as transaction:
        return {
            table.__tablename__: transaction.scalar(text(f'SELECT count(*) FROM "{table.__tablename__}"'))
            for table in TABLES
        }


def _holding(folder: Path, words: bytes, *, but: str = "\0") -> list[Path]:
    """Files that hold the words; PostgreSQL's own log (pg_wal) is not looked at."""
    return [
        path
        for path in folder.rglob("*")
        if path.is_file() and but not in str(path) and words in path.read_bytes()
    ]


def test_an_erased_player_leaves_no_row_no_file_and_no_trace(desk: Desk) -> None:
    other = full_player(desk, "Owen Tarrant", seed=2)
    kept = _counts(desk)
    player = full_player(desk)
    in_use = _counts(desk)
    # Everything that a player can have is there, so that what stays would be seen.
    # (Tracks come from clips alone, settings are the desk's.)
    assert {name for name, count in in_use.items() if count == kept[name]} <= {"settings", "tracks"}
    places = (
        [desk.data_dir] if desk._context.database.is_sqlite else [desk.data_dir, server_folder() / "base"]
    )
    if not desk._context.database.is_sqlite:
        with desk._context.database.engine.execution_options(isolation_level="AUTOCOMMIT").connect() as raw:
            raw.execute(text("CHECKPOINT"))
    assert [path for place in places for path in _holding(place, NAME.encode())]
    backup = desk.backups.make()
    erased = desk.privacy.erase(player.id)
    assert erased.backups == (backup.name,)
    assert erased.files == 1
    desk.backups.delete(backup.name)
    left = _counts(desk)
    # Greens are the club's, log-ins end, and the journal notes what no player is named in.
    for name in ("greens", "green_readings", "logins", "journal"):
        left.pop(name)
        kept.pop(name)
    assert left == kept
    assert desk.journal.list(player_id=player.id).items == ()
    assert [path for place in places for path in _holding(place, NAME.encode())] == []
    assert desk.players.get(other.id).name == "Owen Tarrant"
    assert desk.recordings.of_session(desk.sessions.list(player_id=other.id).items[0].id)[0].strokes == 10
    with pytest.raises(NotFoundError):
        desk.privacy.erase(player.id)


def test_a_recording_that_another_player_has_too_stays(desk: Desk) -> None:
    one, other = willing_player(desk), willing_player(desk, "Owen")
    for player in (one, other):
        kept = add_recording(desk, desk.sessions.create(player.id))
    assert desk.privacy.erase(one.id).files == 0
    assert desk.recordings.path(kept.id).exists()


@pytest.mark.parametrize("to", KINDS)
def test_a_package_comes_back_as_it_was_in_another_desk(desk: Desk, tmp_path: Path, to: str) -> None:
    player = full_player(desk)
    path = desk.privacy.export(player.id, tmp_path / "player.zip")
    with fresh_desk(to, tmp_path / "other") as other:
        brought = other.privacy.import_package(path)
        assert (brought.rows_there_already, brought.files_added) == (0, 1)
        again = other.privacy.import_package(path)
        assert (again.rows_added, again.rows_there_already, again.files_added) == (0, brought.rows_added, 0)
        assert other.players.get(player.id).notes == desk.players.get(player.id).notes
        (session,) = other.sessions.list(player_id=player.id).items
        assert (session.strokes, session.putts, session.recordings) == (10, 7, 1)
        for family in ("strokes", "putts"):
            there, here = (getattr(one, family).list(player_id=player.id).items for one in (other, desk))
            assert there == here
        assert other.putts.for_figures(player.id) == desk.putts.for_figures(player.id)
        assert other.story.of_player(player.id).budget == desk.story.of_player(player.id).budget
        stroke = other.strokes.list(player_id=player.id).items[4]
        assert other.strokes.curve(stroke.id) is not None
        assert len(other.strokes.analyses(stroke.recording_id)) == 2
        assert (
            other.recordings.path(stroke.recording_id).read_bytes()
            == desk.recordings.path(stroke.recording_id).read_bytes()
        )
    again = desk.privacy.import_package(path)
    assert again.rows_added == 0


def test_the_tables_in_a_package_are_read_by_the_tools(desk: Desk, tmp_path: Path) -> None:
    player = full_player(desk)
    path = desk.privacy.export(player.id, tmp_path / "player.zip")
    with zipfile.ZipFile(path) as archive:
        archive.extract("csv/putts.csv", tmp_path)
        assert len(archive.read("csv/strokes.csv").splitlines()) > 8
        assert NAME in json.loads(archive.read("data/players.json"))[0]["name"]
    assert budget_file(tmp_path / "csv" / "putts.csv").budget.putts == 7


def _rewritten(path: Path, out: Path, change: Callable[[str, bytes], tuple[str, bytes]]) -> Path:
    """A package with entries changed, its list of hashes left as it was."""
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            target.writestr(*change(name, source.read(name)))
    return out


def test_a_package_that_tries_something_is_refused_and_leaves_nothing(
    desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    player = full_player(desk)
    path = desk.privacy.export(player.id, tmp_path / "player.zip")
    with fresh_desk("sqlite", tmp_path / "other") as other:
        tries = {
            "path traversal": lambda n, d: ("../../evil.json", d) if n.startswith("csv/putts") else (n, d),
            "absolute path": lambda n, d: ("/tmp/evil", d) if n.startswith("csv/putts") else (n, d),
            "changed rows": lambda n, d: (n, d.replace(b"hurries", b"dawdles")),
            "changed recording": lambda n, d: (n, d + b"x") if n.startswith("recordings/") else (n, d),
            "no manifest": lambda n, d: ("csv/x.csv", d) if n == "manifest.json" else (n, d),
            "other format": lambda n, d: (n, d.replace(b"pacewright.player/1", b"pacewright.player/9")),
        }
        for name, change in tries.items():
            with pytest.raises(RecordError):
                other.privacy.import_package(_rewritten(path, tmp_path / f"{name}.zip", change))
        (tmp_path / "noise.zip").write_bytes(b"PK\x03\x04" + bytes(range(256)) * 20)
        with pytest.raises(RecordError):
            other.privacy.import_package(tmp_path / "noise.zip")
        monkeypatch.setattr(package, "LARGEST_DATA", 5_000)
        with pytest.raises(LimitError, match="unpacks"):
            other.privacy.import_package(path)
        assert sum(_counts(other).values()) == 0
        assert list(other._context.files.all_hashes()) == []
    assert not (tmp_path / "evil.json").exists()


def test_a_package_cannot_take_over_what_belongs_to_another_player(desk: Desk, tmp_path: Path) -> None:
    """Rows of the package under identifiers that another player's rows have here."""
    player, victim = full_player(desk), full_player(desk, "Owen Tarrant", seed=2)
    path = desk.privacy.export(player.id, tmp_path / "player.zip")
    mine, theirs = (str(desk.sessions.list(player_id=p.id).items[0].id) for p in (player, victim))
    forged = tmp_path / "forged.zip"
    with zipfile.ZipFile(path) as source, zipfile.ZipFile(forged, "w") as target:
        manifest = json.loads(source.read("manifest.json"))
        for name in source.namelist():
            data = source.read(name)
            if name.startswith("data/"):
                data = data.replace(mine.encode(), theirs.encode())
                manifest["sha256"][name] = hashlib.sha256(data).hexdigest()
            if name != "manifest.json":
                target.writestr(name, data)
        target.writestr("manifest.json", json.dumps(manifest))
    desk.privacy.erase(player.id)
    before = desk.putts.list(player_id=victim.id).items
    with pytest.raises(RecordError, match="another player"):
        desk.privacy.import_package(forged)
    assert desk.putts.list(player_id=victim.id).items == before


def test_importing_a_player_that_is_deleted_here_is_a_conflict(desk: Desk, tmp_path: Path) -> None:
    player = willing_player(desk)
    path = desk.privacy.export(player.id, tmp_path / "player.zip")
    desk.players.delete(player.id)
    with pytest.raises(ConflictError):
        desk.privacy.import_package(path)


def test_a_backup_taken_while_others_write_is_of_one_moment_and_comes_back(desk: Desk) -> None:
    player = full_player(desk)
    session = desk.sessions.list(player_id=player.id).items[0]
    ended = threading.Event()

    def write() -> None:
        k = 0
        while not ended.is_set():
            # Pairs of putts in one transaction: a backup that holds one of a pair saw half a moment.
            desk.putts.add(session.id, some_putts(2, first=2 * k, prefix="w"))
            k += 1

    writer = threading.Thread(target=write)
    writer.start()
    backups = [desk.backups.make() for _ in range(3)]
    ended.set()
    writer.join()
    for made in backups:
        assert desk.backups.check(desk.backups.path(made.name)) == made
    counts = []
    for made in backups:
        desk.backups.restore(desk.backups.path(made.name))
        counts.append(
            sum(
                (p.client_id or "").startswith("w")
                for p in desk.putts.list(session_id=session.id, limit=500).items
            )
        )
    assert all(count % 2 == 0 for count in counts)
    assert counts == sorted(counts)


def test_after_a_restore_no_figures_of_before_are_taken_for_those_of_now(desk: Desk) -> None:
    """Another process that has the desk open keeps figures by their version."""
    player = full_player(desk)
    desk.story.of_player(player.id)
    made = desk.backups.make()
    session = desk.sessions.list(player_id=player.id).items[0]
    desk.putts.add(session.id, some_putts(2, prefix="later"))

    def version() -> int:
        with desk._context.read() as transaction:
            return transaction.scalars(select(Player.figures_version).where(Player.id == player.id)).one()

    before = version()
    desk.backups.restore(desk.backups.path(made.name))
    assert version() > before
    assert desk.story.of_player(player.id, wait=False).is_fresh  # what was kept with the backup still holds


@pytest.mark.parametrize("to", KINDS)
def test_a_backup_moves_a_desk_to_another_database(desk: Desk, tmp_path: Path, to: str) -> None:
    player = full_player(desk)
    made = desk.backups.make(tmp_path / "club.zip")
    with fresh_desk(to, tmp_path / "other") as other:
        other.players.create("Somebody who was there before")
        other.backups.restore(tmp_path / "club.zip")
        moved, here = _counts(other), _counts(desk)
        for name in ("logins", "measured_strokes"):
            assert moved.pop(name) == 0
            here.pop(name)
        assert moved == here
        assert made.rows == sum(moved.values())
        assert [line.name for line in other.players.list().items] == [NAME]
        assert other.putts.for_figures(player.id) == desk.putts.for_figures(player.id)
        recording = other.strokes.list(player_id=player.id).items[0].recording_id
        assert other.recordings.path(recording).exists()


def test_a_restore_brings_no_erased_player_back(desk: Desk) -> None:
    player, other = full_player(desk), full_player(desk, "Owen Tarrant", seed=2)
    made = desk.backups.make()
    desk.privacy.erase(player.id)
    desk.players.delete(other.id)
    desk.backups.restore(desk.backups.path(made.name))
    assert [line.name for line in desk.players.list().items] == ["Owen Tarrant"]
    made = desk.backups.make()
    desk.backups.restore(desk.backups.path(made.name))
    assert [entry.action for entry in desk.journal.list(limit=500).items].count("erase") == 1


@pytest.mark.parametrize("damage", ["row", "recording", "cut off", "missing table", "not a backup", "newer"])
def test_a_damaged_backup_is_refused_and_nothing_changes(desk: Desk, tmp_path: Path, damage: str) -> None:
    player = full_player(desk)
    good = desk.backups.make(tmp_path / "good.zip")
    bad = tmp_path / "bad.zip"

    def change(name: str, data: bytes) -> tuple[str, bytes]:
        if damage == "row" and name == "tables/putts.jsonl":
            return name, data.replace(b"3.0", b"4.0", 1)
        if damage == "recording" and name.startswith("recordings/"):
            return name, data[:-1]
        if damage == "missing table" and name == "tables/putts.jsonl":
            return "tables/nothing.jsonl", data
        if damage == "newer" and name == "manifest.json":
            return name, data.replace(f'"{good.revision}"'.encode(), b'"9999"')
        return name, data

    if damage == "cut off":
        bad.write_bytes((tmp_path / "good.zip").read_bytes()[:-200])
    elif damage == "not a backup":
        bad.write_bytes(b"hello")
    else:
        _rewritten(tmp_path / "good.zip", bad, change)
    desk.putts.add(desk.sessions.list(player_id=player.id).items[0].id, some_putts(1, prefix="after"))
    before = _counts(desk)
    with pytest.raises(RecordError):
        desk.backups.restore(bad)
    assert _counts(desk) == before


def test_a_backup_of_an_older_revision_is_brought_up_to_date(tmp_path: Path) -> None:
    """A desk of the first revision, with a player: what a backup made then would hold."""
    with fresh_desk("sqlite", tmp_path / "now") as desk:
        player = desk.players.create("Ida")
        made = desk.backups.make(tmp_path / "now.zip")
        older = tmp_path / "older.zip"
        first = ("settings", "undo_steps", "players", "guardians", "consents", "users", "journal")
        with zipfile.ZipFile(tmp_path / "now.zip") as source, zipfile.ZipFile(older, "w") as target:
            manifest = json.loads(source.read("manifest.json"))
            manifest["revision"] = revisions()[0]
            manifest["tables"] = {name: manifest["tables"][name] for name in first}
            for name in first:
                target.writestr(f"tables/{name}.jsonl", source.read(f"tables/{name}.jsonl"))
            target.writestr("manifest.json", json.dumps(manifest))
        desk.players.delete(player.id)
        desk.backups.restore(older)
        assert desk.players.get(player.id).name == "Ida"
    assert made.rows == 2


def test_no_backup_is_made_of_a_desk_that_has_lost_a_recording(desk: Desk) -> None:
    full_player(desk)
    shutil.rmtree(desk._context.files.root)
    desk._context.files.root.mkdir()
    with pytest.raises(RecordError, match="missing"):
        desk.backups.make()
    assert desk.backups.list() == ()
    assert list(desk.backups.folder.iterdir()) == []
