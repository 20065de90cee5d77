"""Recordings on disk: whole or not there, checked when read, resumable on their way in."""

from __future__ import annotations

import hashlib
import itertools
from pathlib import Path
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.core.errors import LimitError, RecordError
from pacewright.records.files import FileStore

UPLOAD = UUID(int=1)


def test_a_file_lies_under_its_hash_once_however_often_it_comes(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    sha256 = store.put([b"ab", b"c"])
    assert sha256 == hashlib.sha256(b"abc").hexdigest() == store.put([b"abc"])
    assert list(store.all_hashes()) == [sha256]
    assert store.checked(sha256).read_bytes() == b"abc"
    assert list(store.incoming.iterdir()) == []


@pytest.mark.parametrize("damage", [b"abX", b"ab", b""])
def test_a_damaged_file_is_not_handed_out(tmp_path: Path, damage: bytes) -> None:
    store = FileStore(tmp_path)
    sha256 = store.put([b"abc"])
    store.place(sha256).write_bytes(damage)
    with pytest.raises(RecordError, match="damaged"):
        store.checked(sha256)


def test_a_missing_file_and_what_is_no_hash_are_said(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    with pytest.raises(RecordError, match="missing"):
        store.checked("0" * 64)
    for name in ("../../etc/passwd", "", "A" * 64, "0" * 63):
        with pytest.raises(RecordError, match="hash"):
            store.place(name)


def test_a_stream_that_is_too_long_or_not_as_stated_leaves_nothing(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    with pytest.raises(LimitError):
        store.put([b"x" * 10, b"x"], most=10)
    with pytest.raises(RecordError, match="hash"):
        store.put([b"abc"], expected="0" * 64)
    assert list(store.all_hashes()) == []
    assert list(store.incoming.iterdir()) == []


@given(cuts=st.lists(st.integers(0, 60), max_size=8), torn=st.integers(0, 12))
def test_an_upload_in_any_pieces_is_the_file_even_with_a_torn_end(
    tmp_path_factory: pytest.TempPathFactory, cuts: list[int], torn: int
) -> None:
    """A piece that was written but never acknowledged is written again over what is left of it."""
    store = FileStore(tmp_path_factory.mktemp("files"))
    data = bytes(range(60))
    places = [0, *sorted(cuts), 60]
    offset = 0
    for start, stop in itertools.pairwise(places):
        with store.part(UPLOAD).open("ab") as stream:
            stream.write(b"?" * torn)
        offset = store.append(UPLOAD, offset, data[start:stop])
        assert offset == stop
    store.part(UPLOAD).open("ab").close()
    store.append(UPLOAD, 60, b"")
    sha256 = hashlib.sha256(data).hexdigest()
    store.finish(UPLOAD, sha256)
    store.finish(UPLOAD, sha256)
    assert store.checked(sha256).read_bytes() == data


def test_a_piece_with_nothing_before_it_is_refused(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    with pytest.raises(RecordError, match="missing"):
        store.append(UPLOAD, 5, b"abc")


def test_tidying_removes_what_a_stopped_process_left_and_keeps_open_uploads(tmp_path: Path) -> None:
    store = FileStore(tmp_path)
    store.append(UPLOAD, 0, b"abc")
    (store.incoming / "0123.tmp").write_bytes(b"x")
    store.append(UUID(int=2), 0, b"abc")
    (store.incoming / "read-left").mkdir()
    (store.incoming / "read-left" / "putt.csv").write_bytes(b"x")
    assert store.tidy([UPLOAD]) == 3
    assert [path.name for path in store.incoming.iterdir()] == [store.part(UPLOAD).name]


def test_no_room_is_said_before_the_upload(tmp_path: Path) -> None:
    with pytest.raises(LimitError, match="room"):
        FileStore(tmp_path).check_room(1 << 60)
