"""The whole job, from a new player to a report that is handed over and a re-test; and two coaches at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.app.desk.people import add_recording, stroke_table, willing_player
from tests.databases import fresh_desk
from tests.web.pages.conftest import DESKTOP, PHONE, Visit

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
Come = Callable[..., Visit]
OUTCOMES = ("+30cm", "-15cm", "in", "-60cm", "+15cm", "+1m")


def make_player(page: Page, name: str) -> None:
    """A player in two steps."""
    page.get_by_role("link", name="New player").click()
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_text("The player agrees to being recorded").click()
    page.get_by_role("button", name="Keep this player").click()
    page.wait_for_url("**/players/*-*")


def begin(page: Page, kind: str) -> None:
    """Begin a session on the measured green."""
    page.get_by_label("Kind").select_option(kind)
    page.locator("select[name=green_id]").first.select_option(index=1)
    page.get_by_role("button", name="Begin", exact=True).click()
    page.wait_for_url("**/sessions/*")


def note_putts(page: Page, outcomes: tuple[str, ...] = OUTCOMES) -> None:
    """Some by thumb, the last one typed."""
    page.get_by_label("Length asked").fill("3m")
    for number, finish in enumerate(outcomes[:-1], start=1):
        page.locator(f"[data-finish='{finish}']").click()
        page.get_by_role("heading", name=f"{number} putt{'' if number == 1 else 's'}", exact=True).wait_for()
    page.get_by_role("textbox", name="Finish").fill("+2ft")
    page.get_by_role("textbox", name="Finish").press("Enter")
    page.get_by_role("heading", name=f"{len(outcomes)} putts").wait_for()


@pytest.mark.parametrize("size", [DESKTOP, PHONE])
def test_from_a_new_player_to_a_report_and_a_re_test(visit: Come, size: tuple[int, int]) -> None:
    coach = visit(size)
    page = coach.go("/")
    make_player(page, f"Nia Corell {size[0]}")
    begin(page, "first test")
    note_putts(page)

    page.get_by_label("Length of these putts").fill("12ft")
    page.locator("#files").set_input_files(
        {"name": "putts-12ft.csv", "mimeType": "text/csv", "buffer": stroke_table(2)}
    )
    # The strokes come by themselves once they are analysed.
    page.get_by_role("heading", name="10 strokes").wait_for(timeout=60_000)
    assert page.locator(".finding").count() >= 1
    page.get_by_role("button", name="End the session").click()
    page.wait_for_url("**/players/*-*")

    page.get_by_role("link", name="Report").click()
    frame = page.frame_locator("iframe")
    frame.get_by_role("heading", name="Nia Corell").wait_for()
    with page.expect_download() as handed_over:
        page.get_by_role("link", name="PDF", exact=True).click()
    assert handed_over.value.path().read_bytes().startswith(b"%PDF")
    with page.expect_download() as handed_over:
        page.get_by_role("link", name="Page (one file)").click()
    assert "Nia Corell" in handed_over.value.path().read_text()
    page.get_by_role("link", name="Link for the player").click()
    page.get_by_label("For", exact=True).fill("home")
    page.get_by_role("button", name="Make a link").click()
    link = page.locator(".share-link")
    link.wait_for()
    assert "/p/" in (link.get_attribute("href") or "")
    assert page.locator(".qr svg").count() == 1

    begin(page, "retention test")
    note_putts(page)
    page.get_by_role("button", name="End the session").click()
    page.wait_for_url("**/players/*-*")
    page.get_by_role("link", name="Progress").click()
    page.locator("svg[class^=chart-days]:visible").wait_for()
    assert "spread" in page.locator(".big").first.inner_text().lower()


def test_a_putt_is_undone_and_a_deletion_taken_back(visit: Come) -> None:
    coach = visit(PHONE)
    page = coach.go("/players")
    page.get_by_role("link", name="Tom Öster").click()
    begin(page, "lesson")
    note_putts(page, ("in", "+15cm", "-15cm"))
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("heading", name="2 putts").wait_for()

    page.get_by_role("button", name="Delete the session").click()
    page.wait_for_url("**/players/*-*")
    page.get_by_text("Deleted.").wait_for()
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("link", name="2 putts").wait_for()


def test_a_player_from_another_desk_is_taken_in(visit: Come, tmp_path: Path) -> None:
    with fresh_desk("sqlite", tmp_path / "other") as desk:
        player = willing_player(desk, "Tove Brought")
        add_recording(desk, desk.sessions.create(player.id))
        desk.privacy.export(player.id, tmp_path / "tove.zip")
    coach = visit()
    page = coach.go("/players")
    page.get_by_text("Import a player").first.click()
    chosen, go = page.get_by_label("Package (ZIP)"), page.get_by_role("button", name="Import a player")
    go.click()
    page.get_by_text("Choose a file first").wait_for()
    coach.is_cut_off = True  # the browser notes the refusal
    chosen.set_input_files({"name": "x.zip", "mimeType": "application/zip", "buffer": b"no archive"})
    go.click()
    page.get_by_text("The package is damaged or none of Pacewright's").wait_for()
    coach.is_cut_off = False
    for _ in range(2):  # the second time nothing changes
        chosen.set_input_files(tmp_path / "tove.zip")
        go.click()
        page.wait_for_url("**/players/*-*")
        assert page.locator("h1").inner_text() == "Tove Brought"
        page = coach.go("/players")
        page.get_by_text("Import a player").first.click()
    assert len(coach.api("/players?search=tove")["items"]) == 1


def test_putts_wait_for_a_server_that_is_away(visit: Come) -> None:
    coach = visit(PHONE)
    page = coach.go("/players")
    page.get_by_role("link", name="Tom Öster").click()
    begin(page, "practice")
    coach.is_cut_off = True
    coach.context.set_offline(True)
    for finish in ("in", "+30cm"):
        page.locator(f"[data-finish='{finish}']").click()
    page.get_by_text("The server does not answer").wait_for()
    coach.context.set_offline(False)
    page.get_by_role("heading", name="2 putts").wait_for()
    coach.is_cut_off = False


def test_two_coaches_work_in_one_session(visit: Come) -> None:
    one, other = visit(), visit(PHONE)
    first = one.go("/players")
    first.get_by_role("link", name="Tom Öster").click()
    begin(first, "lesson")
    second = other.go(first.url.removeprefix(one.server.url))

    first.locator("[data-finish='in']").click()
    second.get_by_role("heading", name="1 putt", exact=True).wait_for()  # seen by the other, by itself
    second.locator("[data-finish='+30cm']").click()
    first.get_by_role("heading", name="2 putts").wait_for()

    first.get_by_label("Place").fill("North")
    first.get_by_role("button", name="Keep", exact=True).click()
    first.get_by_text("· North").wait_for()
    other.is_cut_off = True  # the browser notes the refusal
    second.get_by_label("Place").fill("South")
    second.get_by_role("button", name="Keep", exact=True).click()
    second.get_by_text("Somebody else changed this meanwhile").wait_for()
    second.get_by_role("button", name="Load it again").click()
    second.get_by_text("· North").wait_for()


def test_a_group_takes_turns(visit: Come) -> None:
    page = visit(PHONE).go("/groups/new")
    for name in ("Tom Öster", "Ida Morwenna"):  # in the order ticked, not by name
        page.get_by_text(name, exact=True).click()
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url("**/groups/*-*")
    now = page.locator("#turn-now")
    assert now.inner_text() == "Tom Öster"
    page.locator("[data-finish='in']").click()
    page.get_by_role("button", name="Next: Tom Öster").wait_for()
    assert now.inner_text() == "Ida Morwenna"
    page.locator("[data-finish='+30cm']").click()
    page.get_by_role("button", name="Next: Ida Morwenna").wait_for()
    counts = page.locator(".turns small").all_inner_texts()
    assert counts == ["1 putt", "1 putt"]
    page.get_by_role("button", name="Next: Ida Morwenna").click()
    assert now.inner_text() == "Ida Morwenna"
    page.get_by_role("button", name="Undo").click()
    page.locator(".turns small", has_text="0 putts").wait_for()


def test_a_green_is_measured_both_ways_and_kept(visit: Come) -> None:
    page = visit().go("/greens")
    page.get_by_label("Name").fill("South green")
    page.get_by_label("Speed as stated").fill("9ft 6in")
    page.get_by_role("button", name="Keep the green").click()
    page.wait_for_url("**/greens/*-*")
    for name, rolls in (("up_m", ("2.6m", "2,7 m", "2.65m")), ("down_m", ("3.4m", "3.5m", "3.45m"))):
        for field, roll in zip(page.locator(f"[name={name}]").all(), rolls, strict=True):
            field.fill(roll)
    page.get_by_role("button", name="Measure and keep").click()
    page.get_by_text("ramp", exact=True).wait_for()
    # S = 2 up·down / (up + down) = 3.00 m (Brede, 1991; as `green --help` states it) and uphill.
    assert "3.00" in page.locator(".big").inner_text()
    assert "1.0\u00a0%" in page.locator(".big").inner_text()


def test_a_station_follows_the_length_and_the_beat(visit: Come) -> None:
    coach = visit()
    page = coach.go(f"/players/{coach.ida()}/station")
    words = page.locator("#station-words")
    page.get_by_text("3 m: back").wait_for()
    hole = page.get_by_role("slider", name="Hole: length of the putt")
    hole.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.get_by_text("4 m: back").wait_for()
    at_four = words.inner_text()
    box = hole.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 22, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 222, box["y"] + 40, steps=4)
    page.mouse.up()
    page.locator("#station-words", has_text=at_four).wait_for(state="detached")
    assert (
        words.inner_text().split("m: back ")[1] > at_four.split("m: back ")[1]
    )  # longer putt, longer way back
    page.get_by_role("slider", name="Beat").fill("100")
    page.get_by_text("at 100 beats a minute").wait_for()
    page.get_by_role("button", name="Play the beat").click()
    page.get_by_role("button", name="Stop the beat").click()
    for name, start in (("Print the strip", b"%PDF"), ("Beat as a file", b"RIFF")):
        with page.expect_download() as loaded:
            page.get_by_role("link", name=name).click()
        assert loaded.value.path().read_bytes().startswith(start)
    page.get_by_role("button", name="Keep this station").click()
    page.get_by_text("100 beats a minute", exact=True).wait_for()


def test_units_of_the_coach_hold_everywhere(visit: Come) -> None:
    coach = visit()
    page = coach.go("/settings")
    try:
        page.get_by_label("Units").select_option("imperial")
        page.get_by_role("button", name="Keep", exact=True).click()
        page.locator("html[data-units=imperial]").wait_for(state="attached")
        page = coach.go(f"/players/{coach.ida()}/station")
        page.get_by_text("10 ft: back").wait_for()
        assert "\u00a0in, through" in page.locator("#station-words").inner_text()
        session = next(one for one in coach.api("/sessions")["items"] if one["strokes"])
        coach.go(f"/sessions/{session['id']}")
        assert "ft/s" in page.locator("tbody").first.inner_text()
    finally:
        page.evaluate(
            """fetch('/api/v1/settings', {method: 'PATCH', body: '{"units": "metric"}', headers:
            {'X-CSRF-Token': document.querySelector('meta[name=csrf-token]').content,
             'Content-Type': 'application/json'}})"""
        )
