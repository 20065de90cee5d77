"""Pages that listen to a session: they look again at once when something was sent, not at their next turn."""

from __future__ import annotations

import asyncio

from starlette.types import ASGIApp, Receive, Scope, Send

from pacewright.web.guard import SAFE

Listeners = set[asyncio.Event]
"""A mark for each page that listens; setting it has the page's stream look again."""


class WakeListeners:
    """The ASGI application that wakes whoever listens after each request that may have changed something."""

    def __init__(self, app: ASGIApp, listeners: Listeners) -> None:
        self._app, self._listeners = app, listeners

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on; then wake."""
        try:
            await self._app(scope, receive, send)
        finally:
            if scope["type"] == "http" and scope["method"] not in SAFE:
                for mark in self._listeners:
                    mark.set()


async def woken_or(mark: asyncio.Event, after_s: float) -> None:
    """Wait until the mark is set, or for so long; the mark is taken back."""
    try:
        async with asyncio.timeout(after_s):
            await mark.wait()
    except TimeoutError:
        return
    mark.clear()
