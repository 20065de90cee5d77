"""A server of the practice contract for the tests: one player, one token, results kept by id."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from pacewright.app.practice_page import practice_parts, practice_payload
from pacewright.core.plan import PracticePlan

TOKEN = "one-player"


class Desk:
    """What arrived: ``items`` by id, of which of ``plans``, ``received`` counting every delivery of one.

    Away, it hangs up.
    """

    def __init__(self, plan: PracticePlan) -> None:
        self.plan = plan
        self.port = 0
        self.forget()

    def forget(self) -> None:
        """Be as at the beginning."""
        self.payload = practice_payload(self.plan)
        self.payload |= {"may_send_clips": True, "largest_clip_bytes": 500 << 20}
        self.items: dict[str, dict[str, Any]] = {}
        self.plans: dict[str, str] = {}
        self.received: dict[str, int] = {}
        self.requests: list[str] = []
        self.is_revoked = False
        self.drops_answers = 0
        self.is_away = False

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}/p/{TOKEN}/"

    @property
    def putts(self) -> list[dict[str, Any]]:
        return [item for item in self.items.values() if item["kind"] == "putt"]


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    desk: Desk

    def log_message(self, *_: Any) -> None:
        pass

    def _answer(self, status: int, content: bytes = b"{}", media_type: str = "application/json") -> None:
        self.send_response(status)
        self.send_header("Content-Type", media_type)
        self.send_header("Content-Length", str(len(content)))
        # Without this the browser's own cache could stand in for the page's offline store.
        self.send_header("Cache-Control", "no-store")
        self.end_headers()
        self.wfile.write(content)

    def do_GET(self) -> None:
        if self.desk.is_away:
            self.close_connection = True
            return None
        self.desk.requests.append(self.path)
        start = f"/p/{TOKEN}/"
        if self.path == "/control":
            return self._answer(200, b"<title>control</title>", "text/html")
        if not self.path.startswith(start) or self.desk.is_revoked:
            return self._answer(403)
        name = self.path.removeprefix(start)
        if name == "plan.json":
            return self._answer(200, json.dumps(self.desk.payload).encode())
        part = practice_parts().get(name)
        return self._answer(404) if part is None else self._answer(200, part.content, part.media_type)

    def do_POST(self) -> None:
        if self.desk.is_away:
            self.close_connection = True
            return None
        body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        if self.path != f"/p/{TOKEN}/results" or self.desk.is_revoked:
            return self._answer(403)
        for item in body["items"]:
            self.desk.items[item["id"]] = item
            self.desk.plans[item["id"]] = body["plan_id"]
            self.desk.received[item["id"]] = self.desk.received.get(item["id"], 0) + 1
        if self.desk.drops_answers > 0:
            self.desk.drops_answers -= 1
            self.close_connection = True
            return None
        return self._answer(200, json.dumps({"accepted": [item["id"] for item in body["items"]]}).encode())


@contextmanager
def serving(plan: PracticePlan) -> Iterator[Desk]:
    """The desk at an address of its own, until the block ends."""
    desk = Desk(plan)
    handler = type("Handler", (_Handler,), {"desk": desk})
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    server.daemon_threads = True
    desk.port = server.server_address[1]
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield desk
    finally:
        server.shutdown()
        server.server_close()
