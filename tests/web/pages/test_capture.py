"""Capture: a file that goes on after the server or the page died, several at once, camera and microphone."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.app.desk.people import stroke_table
from tests.web.pages.conftest import PHONE, Visit

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

pytestmark = pytest.mark.browser
Come = Callable[..., Visit]
PIECE = 4 << 20


def begin_session(coach: Visit) -> str:
    """A new session of the player who agreed to being recorded; its id."""
    page = coach.go(f"/players/{coach.ida()}")
    page.get_by_role("button", name="Begin", exact=True).click()
    page.wait_for_url("**/sessions/*")
    return page.url.rsplit("/", 1)[1]


def large_table(path: Path, size: int) -> bytes:
    """A table as large as a clip, without a column to measure by: what is told here is how it arrives."""
    start = b"note\n"
    data = start + b"# " + os.urandom(size // 2).hex().encode()[: size - len(start) - 2]
    path.write_bytes(data)
    return data


def pieces_of(page: Page) -> list[int]:
    """Offsets of the pieces that the page sends, as they are acknowledged."""
    sent: list[int] = []
    page.on(
        "response",
        lambda answer: (
            sent.append(int(answer.request.headers["upload-offset"]))
            if answer.request.method == "PATCH" and answer.ok
            else None
        ),
    )
    return sent


def begins_with_the_second_piece(route: Route) -> bool:
    """Whether the request brings the second piece (told by what it asks, not by what was answered)."""
    return route.request.headers.get("upload-offset") == str(PIECE)


def kept(coach: Visit, session: str) -> bytes:
    """The bytes of the session's only recording."""
    (recording,) = coach.api(f"/sessions/{session}/recordings")
    return coach.context.request.get(f"{coach.server.url}/api/v1/recordings/{recording['id']}/content").body()


def test_an_upload_goes_on_after_the_server_was_lost(visit: Come, tmp_path: Path) -> None:
    coach = visit()
    session = begin_session(coach)
    data = large_table(tmp_path / "long.csv", 2 * PIECE + 1000)
    sent = pieces_of(coach.page)
    coach.is_cut_off = True
    kills = iter([coach.server.kill])

    def kill_before_the_second_piece(route: Route) -> None:
        if begins_with_the_second_piece(route):
            next(kills, lambda: None)()
        route.continue_()

    coach.page.route("**/api/v1/uploads/*", kill_before_the_second_piece)
    coach.page.locator("#files").set_input_files(tmp_path / "long.csv")
    coach.page.get_by_text("The server does not answer").wait_for()
    coach.server.start()
    coach.page.get_by_text("long.csv").and_(coach.page.locator("#recordings b")).wait_for()
    assert sent == [0, PIECE, 2 * PIECE]  # nothing was sent twice
    assert hashlib.sha256(kept(coach, session)).digest() == hashlib.sha256(data).digest()


def test_an_upload_goes_on_after_the_page_died(visit: Come, tmp_path: Path) -> None:
    coach = visit()
    session = begin_session(coach)
    data = large_table(tmp_path / "again.csv", 2 * PIECE + 9)
    coach.is_cut_off = True
    coach.page.route(
        "**/api/v1/uploads/*",
        lambda route: route.abort() if begins_with_the_second_piece(route) else route.continue_(),
    )
    coach.page.locator("#files").set_input_files(tmp_path / "again.csv")
    coach.page.get_by_text("The server does not answer").wait_for()
    coach.page.unroute("**/api/v1/uploads/*")
    address = coach.page.url
    coach.page.close()

    coach.page = coach.context.new_page()
    coach.page.goto(address)
    more = pieces_of(coach.page)
    coach.page.locator("#files").set_input_files(tmp_path / "again.csv")
    coach.page.get_by_text("again.csv").and_(coach.page.locator("#recordings b")).wait_for()
    assert more == [PIECE, 2 * PIECE]  # from where it was, not from the beginning
    assert kept(coach, session) == data


def test_several_files_at_once_and_one_that_is_no_recording(visit: Come) -> None:
    coach = visit()
    session = begin_session(coach)
    coach.is_cut_off = True  # the browser notes the refusal
    good = [
        {"name": f"part-{k}.csv", "mimeType": "text/csv", "buffer": stroke_table(10 + k, 9 + k)}
        for k in (1, 2, 3)
    ]
    bad = {"name": "letter.pdf", "mimeType": "application/pdf", "buffer": b"%PDF-1.7 no recording"}
    coach.page.locator("#files").set_input_files([*good, bad])
    coach.page.get_by_text("is no recording that is known here").wait_for()
    coach.page.get_by_role("heading", name="30 strokes").wait_for(timeout=60_000)
    assert len(coach.api(f"/sessions/{session}/recordings")) == 3


def test_nothing_is_recorded_without_consent(visit: Come) -> None:
    coach = visit(PHONE)
    page = coach.go("/players/new")
    page.get_by_label("Name", exact=True).fill("Kai Unasked")
    page.get_by_role("button", name="Keep this player").click()
    page.wait_for_url("**/players/*-*")
    page.get_by_role("button", name="Begin", exact=True).click()
    page.wait_for_url("**/sessions/*")
    assert page.get_by_text("Kai Unasked has not agreed to being recorded").count() == 1
    coach.is_cut_off = True  # the browser notes the refusal
    page.locator("#files").set_input_files(
        {"name": "a.csv", "mimeType": "text/csv", "buffer": stroke_table(1)}
    )
    page.locator("#uploads").get_by_text("has not agreed to being recorded").wait_for()
    assert coach.api(f"/sessions/{page.url.rsplit('/', 1)[1]}/recordings") == []


@pytest.mark.parametrize(("button", "kind"), [("Camera", "clip"), ("Microphone", "sound")])
def test_what_the_device_records_arrives(visit: Come, button: str, kind: str) -> None:
    coach = visit(PHONE)
    session = begin_session(coach)
    page = coach.page
    page.get_by_role("button", name=button).click()
    page.get_by_text("is for looking, not for timing").wait_for()
    page.get_by_role("button", name="Record", exact=True).click()
    page.get_by_role("button", name="Stop").wait_for()
    if button == "Camera":
        assert page.locator("#preview").evaluate("video => video.videoWidth") > 0
    page.wait_for_timeout(700)
    page.get_by_role("button", name="Stop").click()
    page.locator("#recordings li > b:first-child").wait_for()
    (recording,) = coach.api(f"/sessions/{session}/recordings")
    assert recording["kind"] == kind
    assert recording["size"] > 1000
    page.get_by_role("button", name="Close").click()
    assert page.locator("#preview").evaluate("video => video.srcObject") is None
