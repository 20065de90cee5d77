"""Files that come in pieces, from people whose connection, browser or server goes away."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from pacewright.app.desk.desk import Desk
from tests.app.desk.people import stroke_table, willing_player
from tests.databases import fresh_desk
from tests.web.clients import Caller, at_home

PIECE = 40_000


def _begin(desk: Desk, home: Caller, data: bytes, **more: object) -> str:
    session = desk.sessions.create(willing_player(desk).id).id
    body = {"name": "putts.csv", "size": len(data)} | more
    identifier: str = home.make(f"/sessions/{session}/uploads", body)["id"]
    return identifier


def _send(home: Caller, upload: str, data: bytes, offset: int, most: int = PIECE) -> int:
    answer = home(
        "PATCH",
        f"/uploads/{upload}",
        content=data[offset : offset + most],
        headers={"Upload-Offset": str(offset)},
    )
    assert answer.status_code == 200, answer.text
    assert answer.headers["upload-offset"] == str(answer.json()["received"])
    return int(answer.json()["received"])


def test_the_server_goes_away_in_the_middle_and_the_upload_goes_on(tmp_path: Path) -> None:
    data = stroke_table()
    with fresh_desk("sqlite", tmp_path) as desk:
        home = Caller(at_home(desk))
        mark = home.get("/me")["csrf_token"]
        upload = _begin(desk, home, data, sha256=hashlib.sha256(data).hexdigest())
        assert _send(home, upload, data, 0) == PIECE
    with Desk.open(tmp_path) as desk:
        again = Caller(at_home(desk), mark)
        head = again("HEAD", f"/uploads/{upload}", headers={"Origin": "http://127.0.0.1:8780"})
        received = int(head.headers["upload-offset"])
        assert (received, head.headers["upload-length"]) == (PIECE, str(len(data)))
        # The page that was open before the server went away still holds the mark that the new one wants.
        assert again.get("/me")["csrf_token"] == mark
        while received < len(data):
            received = _send(again, upload, data, received)
        recording = again.make(f"/uploads/{upload}/finish")
        assert recording["sha256"] == hashlib.sha256(data).hexdigest()
        assert again("GET", f"/recordings/{recording['id']}/content").content == data
        assert again.make(f"/uploads/{upload}/finish")["id"] == recording["id"]


@pytest.mark.parametrize("offset", [0, 10, PIECE + 1])
def test_a_piece_at_the_wrong_place_is_refused_with_the_right_one(
    desk: Desk, home: Caller, offset: int
) -> None:
    data = stroke_table()
    upload = _begin(desk, home, data)
    _send(home, upload, data, 0)
    answer = home("PATCH", f"/uploads/{upload}", content=b"x", headers={"Upload-Offset": str(offset)})
    assert answer.status_code == 409
    assert str(PIECE) in answer.json()["detail"]
    assert home.get(f"/uploads/{upload}")["received"] == PIECE


def test_more_than_was_announced_is_refused(desk: Desk, home: Caller) -> None:
    upload = _begin(desk, home, b"12345")
    answer = home("PATCH", f"/uploads/{upload}", content=b"123456", headers={"Upload-Offset": "0"})
    assert answer.status_code == 413


def test_an_unfinished_upload_is_no_recording(desk: Desk, home: Caller) -> None:
    data = stroke_table()
    upload = _begin(desk, home, data)
    _send(home, upload, data, 0)
    assert home("POST", f"/uploads/{upload}/finish").status_code == 409
    assert home("DELETE", f"/uploads/{upload}").status_code == 204
    assert home("GET", f"/uploads/{upload}").status_code == 404


def test_a_file_that_was_damaged_on_its_way_is_refused(desk: Desk, home: Caller) -> None:
    data = stroke_table()
    upload = _begin(desk, home, data, sha256="0" * 64)
    _send(home, upload, data, 0, len(data))
    answer = home("POST", f"/uploads/{upload}/finish")
    assert answer.status_code == 409
    assert "hash" in answer.json()["detail"]
