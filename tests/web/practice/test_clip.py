"""A clip for review, from the player's page in a real browser to the session list of the real desk."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from pacewright.app.desk.receiving import LARGEST_CLIP
from tests.web.practice.conftest import House

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page, Route

pytestmark = pytest.mark.browser
HEAD = b"\x00\x00\x00\x18ftypmp42"


def come(phone: BrowserContext, house: House) -> Page:
    page = phone.new_page()
    page.goto(house.url)
    page.wait_for_selector("html[data-ready]")
    page.locator("#clip").click()
    return page


def film(page: Page, size: int = 50_000, seed: int = 0, **more: Any) -> None:
    """Agree, choose a clip, and send it."""
    page.locator("#agreed").check()
    noise = np.random.default_rng(seed).bytes(size)
    clip: Any = {"name": "putt.mp4", "mimeType": "video/mp4", "buffer": HEAD + noise} | more
    page.get_by_label("Choose a clip").set_input_files(clip)
    page.get_by_role("button", name="Send,").click()


def wait_for(page: Page, state: str, count: int = 1) -> None:
    page.wait_for_function(
        "([state, count]) => document.querySelectorAll(`#clips [data-state=${state}]`).length === count",
        arg=[state, count],
    )


def test_a_clip_goes_with_consent_and_lies_unread_with_its_practice(
    phone: BrowserContext, house: House
) -> None:
    house.agree()
    page = come(phone, house)
    for way in ("Film now", "Choose a clip"):
        assert page.get_by_label(way).is_disabled()  # before the consent
        assert page.get_by_label(way).get_attribute("accept") == "video/*"
    assert page.get_by_label("Film now").get_attribute("capture") == "environment"
    assert "parent or guardian" in page.locator("#chooser").inner_text()
    page.get_by_role("button", name="Back", exact=True).click()
    page.get_by_role("button", name="Start").click()
    page.locator("#main").click()
    page.get_by_role("button", name="Holed", exact=True).click()
    page.wait_for_selector("[data-screen=putt] .flash")
    page.get_by_role("button", name="Back", exact=True).click()
    page.locator("#clip").click()
    slow = phone.new_cdp_session(page)
    slow.send(
        "Network.emulateNetworkConditions",
        {"offline": False, "latency": 0, "downloadThroughput": -1, "uploadThroughput": 1_000_000},
    )
    film(page, 1_000_000)
    page.wait_for_function("() => (document.querySelector('#clips progress')?.value ?? 0) > 0.1")
    wait_for(page, "sent")
    (session,) = house.unread
    assert (session.origin, session.putts, session.recordings) == ("player", 1, 1)
    # The desk's own list of sessions says so, until somebody has looked.
    page.goto(house.url.split("/p/")[0])
    assert page.locator(".badge", has_text="new").count() >= 1
    house.desk.sessions.mark_read(session.id)
    page.reload()
    assert page.locator(".badge", has_text="new").count() == 0


def test_a_lost_network_sends_it_later_and_once(phone: BrowserContext, house: House) -> None:
    """Cut off before the desk has it, then after it but before its answer; then killed and opened again."""
    house.agree()
    page = come(phone, house)
    fate = ["cut", "answer lost"]
    arrived = []

    def meddle(route: Route) -> None:
        happens = fate.pop(0) if fate else ""
        if happens == "answer lost":
            arrived.append(route.fetch().status)
        if happens:
            route.abort("internetdisconnected")
        else:
            route.continue_()

    phone.route("**/clips", meddle)
    film(page)
    wait_for(page, "waiting")
    assert house.unread == ()
    page.get_by_role("button", name="Try now").click()
    page.wait_for_function("() => document.querySelector('#clips [data-state=waiting] button') !== null")
    while not arrived:
        page.wait_for_timeout(20)
    assert arrived == [201]
    page.close(run_before_unload=False)
    again = come(phone, house)
    wait_for(again, "sent")
    (session,) = house.unread
    assert session.recordings == 1
    assert fate == []


def test_without_a_noted_consent_the_page_says_whose(phone: BrowserContext, house: House) -> None:
    page = come(phone, house)
    assert "parent or guardian" in page.locator("main .warning").inner_text()
    assert page.locator("input[type=file]").count() == 0
    house.agree()
    page.get_by_role("button", name="Look again").click()
    page.wait_for_selector("#agreed")
    # Withdrawn meanwhile: the desk refuses, the clip stays, and goes once the consent is there again.
    given = next(one for one in house.desk.consents.of_player(house.desk.players.list().items[0].id)
                 if one.kind == "clip_review")  # fmt: skip
    house.desk.consents.withdraw(given.id)
    film(page)
    wait_for(page, "refused")
    assert "Your coach has not noted" in page.locator("#clips .warning").inner_text()
    assert house.unread == ()
    house.agree()
    page.get_by_role("button", name="Send again").click()
    wait_for(page, "sent")
    assert len(house.unread) == 1


def test_what_is_no_clip_is_refused_in_plain_words(phone: BrowserContext, house: House) -> None:
    house.agree()
    page = come(phone, house)
    page.locator("#agreed").check()
    choose = page.get_by_label("Choose a clip")
    choose.set_input_files({"name": "plan.pdf", "mimeType": "application/pdf", "buffer": b"%PDF"})
    assert page.get_by_role("alert").inner_text() == "plan.pdf is no video. Nothing was sent."
    page.evaluate(
        """size => {
            const file = new File([], 'long.mp4', { type: 'video/mp4' });
            Object.defineProperty(file, 'size', { value: size });
            const input = document.querySelectorAll('input[type=file]')[1];
            Object.defineProperty(input, 'files', { value: [file] });
            input.dispatchEvent(new Event('change'));
        }""",
        LARGEST_CLIP + 1,
    )
    assert "at most 524 MB" in page.get_by_role("alert").inner_text()
    # It says that it is a video, and is none: the desk looks at the bytes and says so.
    film(page, buffer=b"MZ" + bytes(50))
    wait_for(page, "refused")
    assert "did not take it: 'putt.mp4' is no" in page.locator("#clips .warning").inner_text()
    page.get_by_role("button", name="Do not send").click()
    assert page.locator("#clips li").count() == 0
    house.desk.sharing.revoke(house.desk.sharing.of_player(house.desk.players.list().items[0].id)[0].id)
    film(page)
    wait_for(page, "refused")
    assert "no longer valid" in page.locator("#clips .warning").inner_text()
    assert house.unread == ()
