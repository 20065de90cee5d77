"""A desk, and callers of its web server."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from pacewright.app.desk.desk import Desk
from tests.databases import fresh_desk
from tests.web.clients import Caller, at_home


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """An empty desk on SQLite."""
    with fresh_desk("sqlite", tmp_path / "data") as opened:
        yield opened


@pytest.fixture
def home(desk: Desk) -> Caller:
    """Somebody at the desk's own machine."""
    return Caller(at_home(desk))
