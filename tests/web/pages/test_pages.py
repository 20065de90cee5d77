"""Every page: quiet, within the screen, operable, accessible, in every light, small, in two languages."""

from __future__ import annotations

import gzip
import urllib.request
from collections.abc import Callable
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import pytest

from tests.web.pages.conftest import DESKTOP, PHONE, Visit

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser
AXE = {
    "runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], "resultTypes": ["violations"],
    "elementRef": False, "pingWaitTime": 50,
}  # fmt: skip
AXE_SOURCE = (files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
Come = Callable[..., Visit]


def addresses(visit: Visit) -> dict[str, str]:
    """Every page of the desk by name."""
    ida = visit.ida()
    session = next(one for one in visit.api(f"/players/{ida}/sessions")["items"] if one["strokes"])
    stroke = next(
        one for one in visit.api(f"/sessions/{session['id']}/strokes")["items"] if one["kind"] == "putt"
    )
    green = visit.api("/greens")["items"][0]["id"]
    return {
        "today": "/", "players": "/players", "new player": "/players/new", "player": f"/players/{ida}",
        "progress": f"/players/{ida}/progress", "station": f"/players/{ida}/station",
        "report": f"/players/{ida}/report", "session": f"/sessions/{session['id']}",
        "review": f"/strokes/{stroke['id']}", "greens": "/greens", "green": f"/greens/{green}",
        "new group": "/groups/new", "settings": "/settings", "login": "/login",
    }  # fmt: skip


def violations(page: Page) -> list[str]:
    """What axe finds against WCAG 2.2 A and AA; what passes is not gathered, which is most of the work."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SOURCE)
    found = page.evaluate("options => axe.run(document, options)", AXE)["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:200]}" for one in found]


CHANGE_LOOK = """async look => {
  document.documentElement.dataset.look = look;
  await Promise.all(document.getAnimations().map(one => one.finished));
}"""
RICH = ("player", "review", "station")
SMALL_TARGETS = """() => [...document.querySelectorAll('button, .button, select, .tabs a, a.line, summary, '
    + 'input:not(.unseen, .choice input, .tick input), .tick, .choice label')]
  .filter(e => e.checkVisibility() && !e.closest('table'))
  .map(e => [e.textContent.trim().slice(0, 30) || e.name, e.getBoundingClientRect().height])
  .filter(([, height]) => height < 43.9).map(([name]) => `small: ${name}`)"""


@pytest.mark.parametrize(
    ("size", "looks", "further"), [(DESKTOP, ("paper",), ()), (PHONE, ("sun",), ("night",))]
)
def test_every_page_is_quiet_accessible_and_fits(
    visit: Come, size: tuple[int, int], looks: tuple[str, ...], further: tuple[str, ...]
) -> None:
    """Each size has a look of its own; three pages with much on them are seen in one more."""
    coach = visit(size)
    coach.context.add_cookies([{"name": "look", "value": looks[0], "url": coach.server.url}])
    wrong: dict[str, Any] = {}
    for name, path in addresses(coach).items():
        page = coach.go(path)
        page.wait_for_load_state("load")
        found: list[str] = []
        for look in (*looks, *(further if name in RICH else ())):
            page.evaluate(CHANGE_LOOK, look)
            found += violations(page) + page.evaluate(SMALL_TARGETS)
            if page.evaluate("document.documentElement.scrollWidth") > size[0]:
                found.append("wider than the screen")
        if found:
            wrong[name] = found
    assert wrong == {}


def test_axe_would_find_something(visit: Come) -> None:
    page = visit().go("/")
    page.evaluate("document.querySelector('h1').style.color = '#eee8d8'")
    page.evaluate("document.querySelector('main').append(document.createElement('input'))")
    assert {one.split(":")[0] for one in violations(page)} == {"color-contrast", "label"}


def test_first_page_is_small_and_needs_nothing_from_outside(visit: Come) -> None:
    coach = visit()
    sizes: dict[str, int] = {}
    coach.page.on("response", lambda answer: sizes.setdefault(answer.url, 0))
    page = coach.go("/")
    page.wait_for_load_state("load")
    page.evaluate("document.fonts.ready.then(() => true)")
    total = 0
    for url in sizes:
        if url.endswith("/events"):
            continue
        asked = urllib.request.Request(url, headers={"Accept-Encoding": "gzip", "Accept": "*/*"})
        with urllib.request.urlopen(asked) as answer:
            total += len(answer.read())
    assert len(sizes) > 5
    assert total <= 400_000, f"{total / 1000:.0f} kB"


def test_pages_are_sent_compressed(visit: Come) -> None:
    coach = visit()
    asked = urllib.request.Request(
        coach.server.url + "/", headers={"Accept-Encoding": "gzip", "Accept": "text/html"}
    )
    with urllib.request.urlopen(asked) as answer:
        assert b"<h1>" in gzip.decompress(answer.read())


def test_the_desk_is_worked_by_keys_alone(visit: Come) -> None:
    page = visit().go("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "work"
    outlines = []
    for _ in range(4):
        page.keyboard.press("Tab")
        outlines.append(page.evaluate("getComputedStyle(document.activeElement).outlineStyle"))
    assert outlines == ["solid"] * 4
    page.keyboard.press("Enter")
    page.wait_for_url("**/players/*")


def test_texts_come_in_the_language_of_the_browser(visit: Come) -> None:
    coach = visit(locale="de-DE")
    page = coach.go("/")
    assert page.locator("h1").inner_text() == "Heute"
    assert page.locator("html").get_attribute("lang") == "de"
    session = next(one for one in coach.api("/sessions")["items"] if one["strokes"] > 1)
    page = coach.go(f"/sessions/{session['id']}")
    assert page.locator(".finding h3").count() >= 1  # findings too, as a whole
    assert page.locator(".finding [lang=en]").count() == 0


def test_charts_come_after_the_page_with_words_for_who_cannot_see_them(visit: Come) -> None:
    coach = visit()
    page = coach.go(f"/players/{coach.ida()}/progress")
    chart = page.locator("svg.chart-days")
    chart.wait_for()
    assert "4 sessions. Spread" in (chart.get_attribute("aria-label") or "")
    assert page.locator("table tbody tr").count() >= 4  # the same as figures


def test_nothing_moves_for_who_asked_for_less(visit: Come) -> None:
    coach = visit(reduced_motion="reduce")
    page = coach.go(f"/players/{coach.ida()}")
    moving = page.evaluate(
        """() => [...document.querySelectorAll('*')].filter(e => {
            const style = getComputedStyle(e);
            return style.transitionDuration !== '0s' || style.animationName !== 'none';
        }).length"""
    )
    assert moving == 0


def test_a_script_in_a_name_is_a_name(visit: Come) -> None:
    coach = visit()
    page = coach.go("/players/new")
    name = "<img src=x onerror=document.title='no'>"
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_role("button", name="Keep this player").click()
    page.wait_for_url("**/players/*-*")
    assert page.locator("h1").inner_text() == name
    assert page.title().startswith("<img")
