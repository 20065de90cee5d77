"""The player's page in a real browser: two taps to a putt, nothing lost, no network, fit for everyone."""

from __future__ import annotations

import base64
import gzip
import json
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from pacewright.app.practice_page import PracticePlayer, practice_file, practice_parts
from pacewright.core.plan import PracticePlan
from tests.web.practice.serving import Desk

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

pytestmark = pytest.mark.browser
STATIC = Path(__file__).parents[3] / "src" / "pacewright" / "web" / "static" / "practice"


def begin(page: Page, number: int = 1) -> None:
    page.get_by_text("Another session").click()
    page.get_by_role("button", name=f"Session {number} ·").click()
    page.wait_for_selector("[data-screen=putt]")


def note(page: Page, name: str = "Holed") -> None:
    """Play the putt that is asked, and note it by a quick distance."""
    if page.locator("[data-screen=block]").count():
        page.get_by_role("button", name="Next block").click()
        page.wait_for_selector("[data-screen=putt], [data-screen=done]")
    if page.locator("[data-screen=done]").count():
        return
    by_hand = page.get_by_role("button", name="Note the putt")
    (by_hand if by_hand.count() else page.locator("#main")).click()
    if page.locator("[data-screen=guess]").count():
        page.get_by_role("button", name="At the target").click()
    page.get_by_role("button", name=name, exact=True).click()
    page.wait_for_selector("[data-screen=putt], [data-screen=block], [data-screen=done]")


def arrived(page: Page, desk: Desk, putts: int) -> list[dict[str, Any]]:
    for _ in range(100):
        if len(desk.putts) >= putts:
            break
        page.wait_for_timeout(50)
    return desk.putts


def controlled(page: Page) -> None:
    page.evaluate("navigator.serviceWorker.ready")
    page.reload()
    page.wait_for_selector("html[data-ready]")
    assert page.evaluate("navigator.serviceWorker.controller !== null")


def test_the_first_putt_takes_two_taps(page: Page, desk: Desk) -> None:
    page.get_by_role("button", name="Start").click()
    page.locator("#main").click()
    page.wait_for_selector("[data-screen=note]")
    page.get_by_role("button", name="50 cm short", exact=True).click()
    (putt,) = arrived(page, desk, 1)
    assert putt["finish_along_m"] == pytest.approx(putt["asked_m"] - 0.5)
    assert putt["finish_along_sd_m"] == pytest.approx(0.125)


def test_with_the_beat_two_taps_start_it(page: Page) -> None:
    begin(page, 2)
    for _ in range(4):
        note(page)
    while (
        page.get_by_text("This putt without the beat").count() or page.locator("[data-screen=block]").count()
    ):
        note(page)
    page.locator("#main").click()
    assert page.locator("#main").inner_text() == "Stop"
    page.wait_for_selector(".beat span.on")
    page.locator("#main").click()
    assert page.locator(".beat span.on").count() == 0


def test_a_tap_on_the_green_says_where_it_lies(page: Page, desk: Desk) -> None:
    """Frame: along the line, and positive to the left."""
    begin(page)
    page.locator("#main").click()
    box = page.locator("svg.green").bounding_box()
    assert box is not None
    page.mouse.click(box["x"] + 0.75 * box["width"], box["y"] + 0.25 * box["height"])
    (putt,) = arrived(page, desk, 1)
    reach = max(1.5, 0.3 * putt["asked_m"])
    assert putt["finish_along_m"] - putt["asked_m"] == pytest.approx(82.5 / 150 * reach, rel=0.03)
    assert putt["finish_across_m"] == pytest.approx(-80 / 150 * reach, rel=0.03)


def test_the_same_by_keyboard(page: Page, desk: Desk) -> None:
    begin(page)
    page.locator("#main").focus()
    page.keyboard.press("Enter")
    page.locator("svg.green").focus()
    for key in ("ArrowDown", "ArrowDown", "ArrowLeft", "Enter"):
        page.keyboard.press(key)
    (putt,) = arrived(page, desk, 1)
    assert putt["finish_along_m"] == pytest.approx(putt["asked_m"] - 0.2, abs=1e-9)
    assert putt["finish_across_m"] == pytest.approx(0.1, abs=1e-9)


def test_the_guess_comes_first_where_the_plan_asks_for_it(page: Page, desk: Desk) -> None:
    begin(page, 2)
    while not any(putt["guess_along_m"] is not None for putt in desk.putts):
        note(page, "50 cm past")
        page.wait_for_timeout(30)
    guessed = next(putt for putt in desk.putts if putt["guess_along_m"] is not None)
    assert guessed["guess_along_m"] == pytest.approx(guessed["asked_m"])
    assert "your guess was 50 cm off" in page.locator(".flash").inner_text()


def test_feedback_waits_where_the_plan_says_on_request(page: Page) -> None:
    begin(page, 2)
    while not page.get_by_role("button", name="Show how it goes").count():
        note(page, "20 cm past")
    assert page.get_by_text("on average").count() == 0
    page.get_by_role("button", name="Show how it goes").click()
    assert page.get_by_text("on average").count() == 1


def test_a_whole_session_is_drawn_as_planned_and_arrives(page: Page, desk: Desk, plan: PracticePlan) -> None:
    begin(page, 4)
    session = plan.sessions[3]
    while not page.locator("[data-screen=done]").count():
        note(page, "20 cm short")
    putts = arrived(page, desk, session.putts)
    assert len(putts) == session.putts
    for number, block in enumerate(session.blocks):
        lengths = [putt["asked_m"] for putt in putts if putt["block"] == number]
        counts = [lengths.count(length) for length in block.lengths_m]
        assert sum(counts) == block.putts
        assert max(counts) - min(counts) <= 1
        assert all(one != other for one, other in pairwise(lengths))
    page.get_by_role("button", name="Back", exact=True).click()
    assert page.get_by_text("Next: session 1 of 4").count() == 1


def test_undo_takes_the_last_one_back(page: Page, desk: Desk) -> None:
    begin(page)
    note(page)
    page.get_by_role("button", name="Take the last one back").click()
    page.wait_for_function("document.querySelector('.count').textContent === 'Putt 1 of 6'")
    note(page)
    for _ in range(100):
        if (
            len([item for item in desk.items.values() if item["kind"] == "undo"]) == 1
            and len(desk.putts) == 2
        ):
            break
        page.wait_for_timeout(50)
    (undo,) = (item for item in desk.items.values() if item["kind"] == "undo")
    assert undo["of"] == desk.putts[0]["id"]


def test_offline_before_during_and_after_and_killed_in_the_middle(
    page: Page, phone: BrowserContext, desk: Desk
) -> None:
    controlled(page)
    begin(page)
    note(page)
    arrived(page, desk, 1)
    # Both: a page that has just opened is for a moment not yet under the browser's own switch.
    phone.set_offline(True)
    desk.is_away = True
    for _ in range(2):
        note(page)
    # The control: a page never visited is not there without the network.
    control = phone.new_page()
    with pytest.raises(Exception, match="ERR_INTERNET_DISCONNECTED"):
        control.goto(f"http://127.0.0.1:{desk.port}/control")
    control.close()
    # Killed: the page goes away without a word, and a new one opens from the telephone alone.
    page.close(run_before_unload=False)
    page = phone.new_page()
    page.goto(desk.url)
    page.wait_for_selector("html[data-ready]")
    page.get_by_role("button", name="Go on").click()
    assert page.locator(".count").inner_text() == "Putt 4 of 6"
    note(page)
    page.reload()
    page.get_by_role("button", name="Go on").click()
    assert page.locator(".count").inner_text() == "Putt 5 of 6"
    assert len(desk.putts) == 1
    # The first answer is lost on its way: the notes go out again and count once.
    desk.drops_answers = 1
    desk.is_away = False
    phone.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    page.wait_for_timeout(300)
    page.evaluate("dispatchEvent(new Event('online'))")
    putts = arrived(page, desk, 4)
    page.wait_for_function("document.getElementById('sync').textContent.includes('Everything')")
    assert sorted(putt["number"] for putt in putts) == [0, 1, 2, 3]
    assert max(desk.received.values()) >= 2


def test_a_new_plan_does_not_strand_what_was_noted_by_the_old_one(page: Page, desk: Desk) -> None:
    begin(page)
    desk.is_away = True
    note(page)
    old = desk.payload
    desk.payload = old | {"plan_id": "0" * 32}
    desk.is_away = False
    page.reload()
    page.wait_for_selector("html[data-ready]")
    assert page.get_by_role("button", name="Start").count() == 1  # the new plan begins at its beginning
    (putt,) = arrived(page, desk, 1)
    assert putt["number"] == 0
    assert desk.plans[putt["id"]] == old["plan_id"]


def test_a_withdrawn_link_keeps_what_was_noted(page: Page, desk: Desk) -> None:
    begin(page)
    desk.is_revoked = True
    note(page)
    page.wait_for_function("document.getElementById('sync').textContent.includes('no longer valid')")
    page.get_by_role("button", name="Back", exact=True).click()
    page.get_by_role("button", name="Results").click()
    page.wait_for_selector(".putts li")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save as a file").click()
    body = json.loads(Path(download.value.path()).read_text())
    assert [item["kind"] for item in body["items"]] == ["session-start", "putt"]


@pytest.mark.parametrize("language", ["en", "de"])
def test_one_file_opens_from_a_disk_and_asks_nothing_of_the_network(
    browser: Browser, plan: PracticePlan, tmp_path: Path, language: str
) -> None:
    path = tmp_path / "practice.html"
    path.write_bytes(practice_file(plan, PracticePlayer("imperial", language)))
    context = browser.new_context(viewport={"width": 390, "height": 844})
    context.grant_permissions(["clipboard-read", "clipboard-write"])
    page = context.new_page()
    noticed: list[str] = []
    page.on("console", lambda message: noticed.append(message.text))
    page.on("pageerror", lambda error: noticed.append(str(error)))
    page.on("request", lambda request: noticed.append(request.url[:60]))
    page.goto(path.as_uri())
    page.wait_for_selector("html[data-ready]")
    start, go_on = ("Start", "Go on") if language == "en" else ("Los", "Weiter")
    assert page.locator("#clip").count() == 0  # nowhere to send one to
    page.get_by_role("button", name=start).click()
    assert page.locator(".length").inner_text() in {"10 ft", "20 ft", "30 ft"}
    page.locator("#main").click()
    page.locator("#holed").click()
    page.wait_for_selector("[data-screen=putt] .flash")
    page.reload()
    page.get_by_role("button", name=go_on).click()
    assert "2" in page.locator(".count").inner_text()
    assert {line for line in noticed if not line.startswith(("data:", "blob:"))} == {path.as_uri()[:60]}
    context.close()


def test_the_code_to_send_unpacks_to_the_results(page: Page, phone: BrowserContext) -> None:
    phone.grant_permissions(["clipboard-read", "clipboard-write"])
    begin(page)
    note(page)
    page.get_by_role("button", name="Back", exact=True).click()
    page.get_by_role("button", name="Results").click()
    page.get_by_role("button", name="Copy a code").click()
    page.wait_for_function("document.getElementById('say').textContent.startsWith('Copied')")
    kind, packed = page.evaluate("navigator.clipboard.readText()").split(".")
    body = json.loads(gzip.decompress(base64.urlsafe_b64decode(packed + "=" * (-len(packed) % 4))))
    assert (kind, body["schema"]) == ("PW1", "pacewright.practice-results/1")
    assert [item["kind"] for item in body["items"]] == ["session-start", "putt"]


def test_it_can_be_installed(page: Page, phone: BrowserContext) -> None:
    controlled(page)
    session = phone.new_cdp_session(page)
    errors = session.send("Page.getInstallabilityErrors")["installabilityErrors"]
    assert [error["errorId"] for error in errors if error["errorId"] != "in-incognito"] == []


def test_everything_is_no_more_than_250_kb_packed() -> None:
    assert sum(len(gzip.compress(part.content)) for part in practice_parts().values()) <= 250_000


def go(page: Page, screen: str) -> None:
    if screen in {"putt", "note"}:
        begin(page, 2)
        while not page.locator(".markers").count():
            note(page)
        if screen == "note":
            page.get_by_role("button", name="Note the putt").or_(page.locator("#main")).last.click()
    elif screen != "home":
        names = {
            "beat": "Beat alone",
            "mic": "Microphone",
            "results": "Results",
            "settings": "Settings",
            "clip": "Clip for the coach",
        }
        page.get_by_role("button", name=names[screen]).click()
    page.wait_for_selector(f"[data-screen={screen}], [data-screen=guess]")


@pytest.mark.parametrize("screen", ["home", "putt", "note", "beat", "mic", "results", "settings", "clip"])
def test_every_screen_is_accessible_in_every_light(page: Page, screen: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    go(page, screen)
    for look in ("paper", "night", "sun"):
        page.evaluate("look => { document.documentElement.dataset.look = look }", look)
        found = Axe().run(page).response["violations"]
        assert [(one["id"], [node["html"][:80] for node in one["nodes"]]) for one in found] == [], look
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, a, summary, fieldset label, .field-row')]
            .filter(e => e.checkVisibility()).map(e => [e.textContent, e.getBoundingClientRect()])
            .filter(([_, box]) => box.height < 44 || box.width < 44).map(([words]) => words)"""
    )
    assert small == []
    big = page.locator("button.big")
    assert all((one.bounding_box() or {"height": 0})["height"] >= 96 for one in big.all())


def test_less_motion_and_vibration_only_where_wanted(browser: Browser, desk: Desk) -> None:
    context = browser.new_context(reduced_motion="reduce")
    page = context.new_page()
    page.add_init_script("window.shaken = 0; navigator.vibrate = () => { window.shaken += 1; }")
    page.goto(desk.url)
    page.get_by_role("button", name="Beat alone").click()
    page.locator("#main").click()
    page.wait_for_selector(".beat span[data-role=back].on")
    assert page.locator(".beat.moving").count() == 0
    assert page.evaluate("window.shaken") == 0
    context.close()


def test_both_languages_say_everything() -> None:
    messages = json.loads((STATIC / "messages.json").read_text())
    assert set(messages["en"]) == set(messages["de"])
    for key, text in messages["en"].items():
        places = sorted(part.split("}")[0] for part in text.split("{")[1:])
        assert sorted(part.split("}")[0] for part in messages["de"][key].split("{")[1:]) == places, key


def test_the_worker_keeps_every_part() -> None:
    worker = (STATIC / "worker.js").read_text()
    for name in practice_parts():
        assert f'"{name or "./"}"' in worker or name == "worker.js"
