"""One server and one browser a module; a page on it that notes every message and lets no request leave."""

from __future__ import annotations

import fcntl
import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from tests.web.pages.serving import Server, seed

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Page

CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = [
    "--no-sandbox", "--autoplay-policy=no-user-gesture-required", "--use-fake-ui-for-media-stream",
    "--use-fake-device-for-media-stream",
]  # fmt: skip
DESKTOP, PHONE = (1280, 900), (390, 844)


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A seeded data folder, to copy: made once in a run of tests, by the process that comes first."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    folder = shared / "seeded" / "data"
    with (shared / "seeded.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not folder.exists():
            making = Path(tempfile.mkdtemp(dir=shared))
            seed(making / "data")
            making.rename(folder.parent)
    return folder


@pytest.fixture(scope="module")
def server(template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    import shutil

    folder = tmp_path_factory.mktemp("desk") / "data"
    shutil.copytree(template, folder)
    running = Server(folder)
    running.start()
    yield running
    running.stop()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed; make browser installs it")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


class Visit:
    """A page of a coach: what it said on the console, and where it asked."""

    def __init__(self, context: BrowserContext, server: Server) -> None:
        self.context, self.server = context, server
        self.messages: list[str] = []
        self.strangers: list[str] = []
        self.is_cut_off = False
        context.route(lambda url: not url.startswith((server.url, "blob:", "data:")), self._stranger)
        self.page: Page = context.new_page()
        self.page.on("console", self._message)
        self.page.on("pageerror", lambda error: self.messages.append(f"error: {error}"))

    def _stranger(self, route: Any) -> None:
        self.strangers.append(route.request.url)
        route.abort()

    def _message(self, message: Any) -> None:
        # While a test has cut the server off, the browser says so; that is no fault of the page.
        if not self.is_cut_off:
            self.messages.append(message.text)

    def go(self, path: str) -> Page:
        """Open a page of the server."""
        self.page.goto(self.server.url + path)
        return self.page

    def api(self, path: str) -> Any:
        """What the API says."""
        return self.context.request.get(f"{self.server.url}/api/v1{path}").json()

    def ida(self) -> str:
        """The player with a history."""
        return str(self.api("/players?search=ida")["items"][0]["id"])


@pytest.fixture
def visit(browser: Browser, server: Server) -> Iterator[Callable[..., Visit]]:
    """A way to come to the desk: size of the screen, further settings. Whoever came must have been quiet."""
    came: list[Visit] = []

    def come(size: tuple[int, int] = DESKTOP, **settings: Any) -> Visit:
        told = {"locale": "en-GB", "permissions": ["camera", "microphone"]} | settings
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, has_touch=size == PHONE, **told
        )
        context.set_default_timeout(20_000)
        visit = Visit(context, server)
        came.append(visit)
        return visit

    yield come
    for visit in came:
        visit.context.close()
    assert [message for visit in came for message in visit.messages] == []
    assert [url for visit in came for url in visit.strangers] == []
