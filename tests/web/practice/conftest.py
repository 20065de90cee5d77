"""A plan, a desk and a browser for the tests of the player's page."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pacewright.app.plans import PlanOptions, make_plan
from pacewright.core.green import Green
from pacewright.core.plan import PracticePlan
from tests.web.practice.serving import Desk, serving

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page, Playwright

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = ["--no-sandbox", "--autoplay-policy=no-user-gesture-required"]


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


@pytest.fixture
def desk(plan: PracticePlan) -> Iterator[Desk]:
    with serving(plan) as running:
        yield running


@pytest.fixture(scope="module")
def driver() -> Iterator[Playwright]:
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed; make browser installs it")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        yield playwright


@pytest.fixture(scope="module")
def browser(driver: Playwright) -> Iterator[Browser]:
    browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
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
