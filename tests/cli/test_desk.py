"""The desk from the command line: backups and packages, also while somebody else has the desk open."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from pacewright.app.desk.desk import Desk
from pacewright.cli.main import run
from tests.app.desk.people import add_recording, some_putts, stroke_table, willing_player
from tests.databases import fresh_desk

NAME = "Ida Morwenna"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A desk with a player, three putts and a recording."""
    with fresh_desk("sqlite", tmp_path / "desk") as desk:
        session = desk.sessions.create(willing_player(desk, NAME).id)
        desk.putts.add(session.id, some_putts(3))
        add_recording(desk, session)
    return tmp_path / "desk"


def _putts(folder: Path) -> int:
    with Desk.open(folder) as desk:
        return sum(session.putts for session in desk.sessions.list().items)


def test_a_backup_is_made_checked_and_restored_while_the_desk_is_open(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "all.zip"
    data = ["--data", str(folder)]
    with Desk.open(folder) as desk:
        assert run(["desk", "backup", str(file), *data]) == 0
        assert "1 recordings, read again and whole" in capsys.readouterr().out
        assert run(["desk", "check", str(file), "--json"]) == 0
        assert json.loads(capsys.readouterr().out)["recordings"] == 1
        (session,) = desk.sessions.list().items
        desk.putts.add(session.id, some_putts(4, prefix="later"))
        assert desk.sessions.get(session.id).putts == 7
        assert run(["desk", "restore", str(file), *data]) == 0
        assert desk.sessions.get(session.id).putts == 3  # seen by whoever has the desk open
        (before,) = desk.backups.list()
        assert before.name in capsys.readouterr().out
    assert run(["desk", "restore", str(folder / "backups" / before.name), *data]) == 0
    assert _putts(folder) == 7


def test_a_backup_makes_a_desk_on_another_machine(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "all.zip"
    assert run(["desk", "backup", str(file), "--data", str(folder)]) == 0
    assert run(["desk", "restore", str(file), "--data", str(tmp_path / "new")]) == 0
    with Desk.open(tmp_path / "new") as desk:
        (session,) = desk.sessions.list().items
        (recording,) = desk.recordings.of_session(session.id)
        assert desk.recordings.path(recording.id).read_bytes() == stroke_table()


def test_a_damaged_backup_is_refused_and_nothing_changes(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file, data = tmp_path / "all.zip", ["--data", str(folder)]
    assert run(["desk", "backup", str(file), *data]) == 0
    with zipfile.ZipFile(file) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    members["tables/putts.jsonl"] = members["tables/putts.jsonl"].replace(b"3.0", b"4.0", 1)
    with zipfile.ZipFile(file, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    torn = tmp_path / "torn.zip"
    torn.write_bytes(file.read_bytes()[:-100])
    for bad in (file, torn):
        assert run(["desk", "check", str(bad)]) == 2
        for target in (folder, tmp_path / "new"):
            assert run(["desk", "restore", str(bad), "--data", str(target)]) == 2
    assert "damaged" in capsys.readouterr().err
    assert not (tmp_path / "new").exists()
    assert not list((folder / "backups").glob("*.zip"))
    assert _putts(folder) == 3


def test_a_player_moves_from_desk_to_desk_and_is_erased(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    package, data, new = tmp_path / "ida.zip", ["--data", str(folder)], ["--data", str(tmp_path / "new")]
    assert run(["desk", "export", NAME, str(package), *data]) == 0
    assert run(["desk", "export", NAME, str(package), *data]) == 2  # what is there is not written over
    assert "is there already" in capsys.readouterr().err
    for rows_there in (False, True):
        assert run(["desk", "import", str(package), *new, "--json"]) == 0
        brought = json.loads(capsys.readouterr().out)
        assert (brought["rows_added"] == 0) is rows_there
    assert _putts(tmp_path / "new") == 3
    assert run(["desk", "backup", *data]) == 0
    assert run(["desk", "erase", NAME, "--sure", "Ida", *data]) == 2
    assert "nothing was erased" in capsys.readouterr().err
    assert run(["desk", "erase", brought["player_id"], "--sure", NAME, *data]) == 0
    assert "Still in the backup pacewright-" in capsys.readouterr().out
    with Desk.open(folder) as desk:
        assert desk.players.list().items == ()
        assert list(desk._context.files.all_hashes()) == []
    assert run(["desk", "erase", NAME, "--sure", NAME, *data]) == 2


@pytest.mark.parametrize("arguments", [["backup"], ["export", NAME, "x.zip"], ["erase", NAME]])
def test_where_there_is_no_desk_none_is_made(
    tmp_path: Path, arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["desk", *arguments, "--data", str(tmp_path / "typo")]) == 2
    assert "There is no desk" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_no_package_is_no_player(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "x.zip"
    file.write_bytes(b"no archive")
    assert run(["desk", "import", str(file), "--data", str(folder)]) == 2
    assert "damaged or none" in capsys.readouterr().err
    assert run(["desk", "export", "Nobody", str(tmp_path / "y.zip"), "--data", str(folder)]) == 2


def test_two_of_one_name_are_told_apart_by_id(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Desk.open(folder) as desk:
        other = willing_player(desk, NAME)
    assert run(["desk", "export", NAME, "x.zip", "--data", str(folder)]) == 2
    assert str(other.id) in capsys.readouterr().err
