"""A page that listens to a session looks again as soon as something was sent."""

from __future__ import annotations

import asyncio

import pytest

from pacewright.web.listeners import WakeListeners, woken_or


@pytest.mark.parametrize(("method", "wakes"), [("GET", False), ("POST", True), ("PATCH", True)])
def test_what_may_have_changed_something_wakes_whoever_listens(method: str, wakes: bool) -> None:
    async def scene() -> bool:
        mark = asyncio.Event()

        async def app(*_: object) -> None:
            assert not mark.is_set()

        await WakeListeners(app, {mark})({"type": "http", "method": method}, None, None)  # type: ignore[arg-type]
        return mark.is_set()

    assert asyncio.run(scene()) is wakes


def test_who_is_woken_waits_no_longer_and_sleeps_again() -> None:
    async def scene() -> list[bool]:
        mark = asyncio.Event()
        mark.set()
        await woken_or(mark, 3600.0)
        first = mark.is_set()
        await woken_or(mark, 0.001)
        return [first, mark.is_set()]

    assert asyncio.run(scene()) == [False, False]
