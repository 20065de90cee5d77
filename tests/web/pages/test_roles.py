"""What a player sees of the desk: its own records, without the coach's controls, and nobody else's."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from pacewright.web.server import create_app
from pacewright.web.settings import ServerSettings
from tests.app.desk.people import some_putts, willing_player
from tests.databases import fresh_desk

PASSWORD = "long enough words"
PAGE = {"accept": "text/html"}


@pytest.fixture
def told(tmp_path: Path) -> tuple[TestClient, str, str, str]:
    """A player who has logged in, its id, its session, and the id of somebody else."""
    desk = fresh_desk("sqlite", tmp_path / "data")
    own, other = willing_player(desk, "Ida Own"), willing_player(desk, "Tom Other")
    session = desk.sessions.create(own.id)
    desk.putts.add(session.id, some_putts(3))
    desk.users.create("ida", PASSWORD, "player", player_id=own.id)
    client = TestClient(
        create_app(desk, ServerSettings(demands_login=True)), base_url="http://localhost:8780"
    )
    return client, str(own.id), str(session.id), str(other.id)


def test_a_player_sees_its_own_pages_alone(told: tuple[TestClient, str, str, str]) -> None:
    client, own, session, other = told
    assert client.get("/", headers=PAGE).url.path == "/login"
    assert client.post("/api/v1/login", json={"name": "ida", "password": PASSWORD}).status_code == 200
    first = client.get("/", headers=PAGE)
    assert first.url.path == f"/players/{own}"
    assert 'data-role="player"' in first.text  # the style sheet hides what is for the coach
    for path in (f"/players/{own}/progress", f"/players/{own}/report", f"/sessions/{session}", "/players"):
        answer = client.get(path, headers=PAGE)
        assert answer.status_code == 200, path
        assert "Tom Other" not in answer.text
    for path in (f"/players/{other}", f"/players/{other}/progress", f"/players/{other}/pictures?names=days"):
        assert client.get(path, headers=PAGE).status_code == 404, path
    for path in ("/settings", "/greens", "/groups/new"):
        assert client.get(path, headers=PAGE).status_code == 403, path


def test_the_log_in_leads_nowhere_else(told: tuple[TestClient, str, str, str]) -> None:
    client = told[0]
    for wanted, leads in (("/players", "/players"), ("//evil.example", "/"), ("https://evil.example", "/")):
        page = client.get("/login", params={"next": wanted}).text
        assert f'data-then="{leads}"' in page
