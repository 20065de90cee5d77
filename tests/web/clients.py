"""Clients of the web server for the tests: somebody at the desk, and people who log in elsewhere."""

from __future__ import annotations

from typing import Any

from fastapi.testclient import TestClient

from pacewright.app.desk.desk import Desk
from pacewright.web.server import create_app
from pacewright.web.settings import ServerSettings

HOME = "http://127.0.0.1:8780"
AWAY = "https://desk.example"
PASSWORD = "quiet hands at dusk"
REMOTE = ServerSettings(
    host="0.0.0.0", demands_login=True, secure_cookies=True, extra_hosts=("desk.example",)
)


class Caller:
    """A client that speaks the API: paths below ``/api/v1``, the mark of the pages with every change."""

    def __init__(self, client: TestClient, mark: str = "") -> None:
        self.client, self.mark = client, mark

    def __call__(self, method: str, path: str, **options: Any) -> Any:
        headers = dict(options.pop("headers", {}))
        if self.mark:
            headers.setdefault("X-CSRF-Token", self.mark)
        return self.client.request(method, f"/api/v1{path}", headers=headers, **options)

    def make(self, path: str, body: object = None, **options: Any) -> Any:
        """Post, and give back what was made."""
        answer = (
            self("POST", path, json=body, **options) if body is not None else self("POST", path, **options)
        )
        assert answer.status_code in (200, 201, 202), answer.text
        return answer.json()

    def get(self, path: str, **options: Any) -> Any:
        """Get what is there."""
        answer = self("GET", path, **options)
        assert answer.status_code == 200, answer.text
        return answer.json()


def at_home(desk: Desk) -> TestClient:
    """A client on the desk's own machine, where nobody logs in."""
    return TestClient(create_app(desk), base_url=HOME)


def from_away(desk: Desk, settings: ServerSettings = REMOTE, *, address: str = "198.51.100.7") -> TestClient:
    """A client on another machine."""
    return TestClient(create_app(desk, settings), base_url=AWAY, client=(address, 50_000))


def logged_in(desk: Desk, name: str, role: str, **options: Any) -> Caller:
    """Somebody with an account, logged in from another machine."""
    player_id = options.pop("player_id", None)
    desk.users.create(name, PASSWORD, role, player_id=player_id)  # type: ignore[arg-type]
    client = from_away(desk, **options)
    answer = client.post("/api/v1/login", json={"name": name, "password": PASSWORD})
    assert answer.status_code == 200, answer.text
    return Caller(client, answer.json()["csrf_token"])
