"""The report in a real browser: no request, no message, no sideways scrolling, legible in every light."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pacewright.render.html import report_html
from tests.render.sample import sample_report

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = Path("/usr/bin/chromium")
pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not CHROMIUM.exists(), reason="Chromium is not installed; make browser installs it"),
]


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(report_html(sample_report()), "utf-8")
    return path


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=["--no-sandbox"])
        yield browser
        browser.close()


def opened(browser: Browser, report: Path, width: int) -> tuple[Page, list[str]]:
    page = browser.new_page(viewport={"width": width, "height": 900})
    noticed: list[str] = []
    page.on("console", lambda message: noticed.append(f"console: {message.text}"))
    page.on("pageerror", lambda error: noticed.append(f"error: {error}"))
    page.on("request", lambda request: noticed.append(f"request: {request.url[:80]}"))
    page.goto(report.as_uri())
    page.wait_for_function("document.fonts.ready.then(() => true)")
    return page, noticed


@pytest.mark.parametrize("width", [1280, 390])
def test_page_is_quiet_and_fits(browser: Browser, report: Path, width: int) -> None:
    page, noticed = opened(browser, report, width)
    own = [f"request: {report.as_uri()[:80]}"]
    assert [line for line in noticed if not line.startswith("request: data:")] == own
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    shown = page.locator("svg:visible")
    assert shown.count() == 5
    smallest = page.evaluate(
        """() => Math.min(...[...document.querySelectorAll('svg text')]
            .filter(t => t.checkVisibility() && t.textContent.trim())
            .map(t => t.getBoundingClientRect().height))"""
    )
    assert smallest >= 11  # px on the screen: readable at arm's length
    page.close()


def test_no_label_of_a_chart_is_cut_off(browser: Browser, report: Path) -> None:
    page, _ = opened(browser, report, 390)
    cut = page.evaluate(
        """() => [...document.querySelectorAll('svg')].filter(s => s.checkVisibility()).flatMap(s => {
            const box = s.getBoundingClientRect();
            return [...s.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()])
              .filter(([_, r]) => r.left < box.left - 1 || r.right > box.right + 1)
              .map(([text]) => text);
        })"""
    )
    assert cut == []
    page.close()


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2) of `rgb(r, g, b)`."""
    parts = [int(part) / 255 for part in colour.removeprefix("rgb(").removesuffix(")").split(",")[:3]]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(("light", "least"), [("paper", 4.5), ("night", 4.5), ("sun", 7.0)])
def test_contrast_in_every_light(browser: Browser, report: Path, light: str, least: float) -> None:
    # WCAG 2.2: 4.5 is AA, 7 is AAA for text.
    page, _ = opened(browser, report, 1280)
    page.locator(f"#page-{light}").check()
    page.wait_for_timeout(50)
    ground = luminance(page.evaluate("getComputedStyle(document.documentElement).backgroundColor"))
    colours = page.evaluate(
        """() => [...new Set([...document.querySelectorAll('p, dd, dt, td, th, h1, h2, h3, small, svg text')]
            .map(e => e.closest('svg') ? getComputedStyle(e).fill : getComputedStyle(e).color))]"""
    )
    assert len(colours) >= 4
    for colour in colours:
        high, low = sorted((luminance(colour), ground), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= least, colour
    page.close()


def test_printing_shows_the_wide_charts_and_no_switch(browser: Browser, report: Path) -> None:
    page, _ = opened(browser, report, 390)
    page.emulate_media(media="print")
    assert page.locator("fieldset:visible").count() == 0
    assert page.locator(".wide svg:visible").count() == 5
    assert page.locator(".narrow svg:visible").count() == 0
    page.close()
