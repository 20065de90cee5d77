"""How soon the page is there on a telephone that never saw it, from the real server.

A clock on the wall would measure how busy this machine is. What decides on a telephone is counted instead:
the bytes and the round trips until the page can be used, and the processor time of its thread; the profile of
a slow telephone turns them into seconds.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import pytest

from tests.web.practice.conftest import House

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext

pytestmark = pytest.mark.browser
# A slow mobile network and a mid-range telephone, as page audits take them (common practice, no source).
ROUND_TRIP_S, BYTES_A_S, SLOWDOWN = 0.15, 1.6e6 / 8, 4.0
CONNECTIONS = 6  # that a browser opens to one server (HTTP/1.1)
HANDSHAKES = 2  # TCP and TLS 1.3, before the first request


def depth(url: str, started_by: dict[str, str]) -> int:
    """How many answers had to come before this one could be asked for, and itself."""
    steps = 1
    while url in started_by and started_by[url] != url:
        url, steps = started_by[url], steps + 1
    return steps


def test_first_use_takes_two_seconds_on_a_slow_telephone(phone: BrowserContext, house: House) -> None:
    page = phone.new_page()
    watch = phone.new_cdp_session(page)
    started_by: dict[str, str] = {}
    urls: dict[str, str] = {}
    size: Counter[str] = Counter()

    def asked(event: dict[str, Any]) -> None:
        initiator = event["initiator"]
        stack = initiator.get("stack", {}).get("callFrames", [])
        by = initiator.get("url") or (stack[0]["url"] if stack else "")
        urls[event["requestId"]] = url = event["request"]["url"]
        if by:
            started_by[url] = by

    def finished(event: dict[str, Any]) -> None:
        size[urls[event["requestId"]]] = int(event["encodedDataLength"])

    watch.on("Network.requestWillBeSent", asked)
    watch.on("Network.loadingFinished", finished)
    watch.send("Network.enable")
    watch.send("Performance.enable", {"timeDomain": "threadTicks"})
    # What comes after the page is ready (fonts, the store for offline use) is not waited for.
    page.add_init_script("delete Navigator.prototype.serviceWorker")
    page.goto(house.url)
    page.wait_for_selector("html[data-ready]")
    metrics = {one["name"]: one["value"] for one in watch.send("Performance.getMetrics")["metrics"]}
    needed = [url for url in size if url.rsplit("/", 1)[1] not in {"icon.svg", "manifest.json", "fonts.css"}]
    assert {url.rsplit("/", 1)[1] for url in needed} >= {
        "",
        "plan.json",
        "practice.css",
        "page.js",
        "clicks.js",
    }
    waves = Counter(depth(url, started_by) for url in needed)
    round_trips = HANDSHAKES + sum(-(-count // CONNECTIONS) for count in waves.values())
    sent = sum(size[url] for url in needed)
    arrived_s = ROUND_TRIP_S * round_trips + sent / BYTES_A_S
    worked_s = SLOWDOWN * metrics["TaskDuration"]
    print(f"{sent} bytes, {round_trips} round trips, {arrived_s:.2f} s + {worked_s:.2f} s")
    # Nothing is named only by what has to be fetched first.
    assert [url for url in needed if depth(url, started_by) > 2] == []
    assert sum(size.values()) <= 250_000
    assert arrived_s + worked_s <= 2.0
