"""A plan, a desk and a browser for the tests of the player's page."""

from __future__ import annotations

import datetime
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import soundfile
import uvicorn

from pacewright.app.desk import desk as desks
from pacewright.app.desk.practice import PlanRequest
from pacewright.app.desk.views import SessionView
from pacewright.app.plans import PlanOptions, make_plan
from pacewright.core.green import Green
from pacewright.core.plan import PracticePlan
from pacewright.web.server import create_app
from tests.app.desk.people import willing_player
from tests.databases import fresh_desk
from tests.web.pages.serving import free_port
from tests.web.practice.serving import Desk, serving

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, Playwright

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--use-fake-ui-for-media-stream",
    "--use-fake-device-for-media-stream",
]  # fmt: skip
KNOCK_EVERY_S = 0.5


def write_knocks(path: Path) -> None:
    """What the browser's make-believe microphone hears, over and over: loud knocks at a steady interval."""
    rate, rng = 48000, np.random.default_rng(1)
    sound = 0.001 * rng.standard_normal(4 * rate)
    for k in range(8):
        start = int((0.25 + KNOCK_EVERY_S * k) * rate)
        burst = 0.3 * rng.standard_normal(960) * np.exp(-np.arange(960) / 96)
        sound[start : start + burst.size] += burst
    soundfile.write(path, sound, rate, subtype="PCM_16")


@pytest.fixture(scope="session")
def plan() -> PracticePlan:
    return make_plan(
        PlanOptions(
            lengths_m=(3.048, 6.096, 9.144),
            start=datetime.date(2026, 3, 2),
            player="Ada",
            weekdays=(),
            sessions=4,
            minutes=20,
            test_putts=10,
            green=Green(3.048),
        )
    )


@pytest.fixture(scope="module")
def site(plan: PracticePlan) -> Iterator[Desk]:
    """One desk a module."""
    with serving(plan) as running:
        yield running


@pytest.fixture
def desk(site: Desk) -> Desk:
    """The desk as if nothing had come yet."""
    site.forget()
    return site


@pytest.fixture(scope="module")
def driver() -> Iterator[Playwright]:
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed; make browser installs it")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="module")
def browser(driver: Playwright, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """One browser a module, with knocks in its microphone."""
    path = tmp_path_factory.mktemp("microphone") / "knocks.wav"
    write_knocks(path)
    arguments = [*ARGUMENTS, f"--use-file-for-fake-audio-capture={path}"]
    browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=arguments)
    yield browser
    browser.close()


@pytest.fixture
def phone(browser: Browser) -> Iterator[BrowserContext]:
    context = browser.new_context(viewport={"width": 390, "height": 844}, has_touch=True, locale="en-GB")
    yield context
    context.close()


@pytest.fixture
def page(phone: BrowserContext, desk: Desk) -> Page:
    page = phone.new_page()
    page.goto(desk.url)
    page.wait_for_selector("html[data-ready]")
    return page


@dataclass
class House:
    """The real desk, and the address of a link to it."""

    desk: desks.Desk
    url: str
    token: str

    @property
    def unread(self) -> tuple[SessionView, ...]:
        return self.desk.sessions.list(unread=True).items

    def agree(self) -> None:
        player = self.desk.players.list().items[0].id
        self.desk.consents.give(player, "clip_review", "player")


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    with fresh_desk("sqlite", tmp_path / "data") as desk:
        player = willing_player(desk, "Ada")
        desk.plans.make(player.id, PlanRequest((3.0, 5.0), datetime.date(2026, 11, 16)))
        _, token = desk.sharing.create(player.id)
        port = free_port()
        server = uvicorn.Server(uvicorn.Config(create_app(desk), port=port, log_level="critical"))
        thread = threading.Thread(target=server.run, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield House(desk, f"http://127.0.0.1:{port}/p/{token}/", token)
        server.should_exit = True
        thread.join(10.0)
