"""A desk on each database, and a short recording with strokes in it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from pacewright.app.desk.desk import Desk
from tests.databases import KINDS, fresh_desk


@pytest.fixture(params=KINDS)
def desk(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Desk]:
    """An empty desk, once on SQLite and once on PostgreSQL."""
    with fresh_desk(request.param, tmp_path / "data") as opened:
        yield opened
