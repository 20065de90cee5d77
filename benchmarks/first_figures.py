"""From the end of an upload to the first figures on the page, beside the time that the analysis took.

Run as a module: python -m benchmarks.first_figures [times]. A server with its worker runs in a process of its
own. A page's stream of events is listened to, a file is sent in pieces, and from the answer that it is whole
the clock runs until the part of the page that the events announce holds figures. The time of the analysis is
that of the job's own record. The goal is analysis + `GOAL_S`.
"""

from __future__ import annotations

import datetime as dt
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any
from uuid import UUID

import httpx2 as httpx
import numpy as np

from pacewright.app.desk.desk import Desk
from tests.app.clip_scene import Scene, write_clip
from tests.app.desk.people import stroke_table, willing_player
from tests.web.pages.serving import Server

GOAL_S = 0.5
PIECE = 4 << 20
FIGURE = '<td class="figure">'


def send(client: httpx.Client, session: str, name: str, data: bytes) -> float:
    """Send a file as a page does; the moment at which it is known to be whole."""
    opened = client.post(f"/api/v1/sessions/{session}/uploads", json={"name": name, "size": len(data)})
    upload = opened.raise_for_status().json()["id"]
    for start in range(0, len(data), PIECE):
        client.patch(
            f"/api/v1/uploads/{upload}", content=data[start : start + PIECE],
            headers={"Upload-Offset": str(start), "Content-Type": "application/octet-stream"},
        ).raise_for_status()  # fmt: skip
    client.post(f"/api/v1/uploads/{upload}/finish").raise_for_status()
    return time.perf_counter()


class Page:
    """What a page of a session does by itself: it listens, and fetches its part at each event."""

    def __init__(self, url: str, session: str) -> None:
        self._url, self._session = url, session
        self.figures_at = 0.0
        self.listens, self.shows = threading.Event(), threading.Event()
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        with (
            httpx.Client(base_url=self._url, timeout=120.0) as client,
            client.stream("GET", f"/api/v1/sessions/{self._session}/events") as stream,
        ):
            for line in stream.iter_lines():
                if not line.startswith("data:"):
                    continue
                self.listens.set()
                part = client.get(f"/sessions/{self._session}/part", headers={"Accept": "text/html"}).text
                if FIGURE in part:
                    self.figures_at = time.perf_counter()
                    self.shows.set()
                    return


def once(server: Server, session: str, name: str, data: bytes) -> tuple[float, float]:
    """Seconds to the first figures, and seconds of the analysis."""
    page = Page(server.url, session)
    assert page.listens.wait(30.0)
    with httpx.Client(base_url=server.url, timeout=120.0) as client:
        sent_at = send(client, session, name, data)
        assert page.shows.wait(120.0), "no figures"
        while (job := _newest_job(client, session))["state"] != "done":
            assert job["state"] in ("queued", "running"), job
            time.sleep(0.05)
    begun, ended = (dt.datetime.fromisoformat(job[name]) for name in ("started_at", "ended_at"))
    return page.figures_at - sent_at, (ended - begun).total_seconds()


def _newest_job(client: httpx.Client, session: str) -> dict[str, Any]:
    newest: dict[str, Any] = client.get(f"/api/v1/sessions/{session}/jobs").raise_for_status().json()[0]
    return newest


def _clip(folder: Path) -> bytes:
    """A film of one putt from above."""
    scene = Scene()
    path = folder / "putt.mp4"
    write_clip(path, scene.pictures(), scene.play_rate_hz)
    return path.read_bytes()


def main() -> None:
    """Print the times of a table and of a clip, the first of each after the start of the server."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 8
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = {"table": ("putts.csv", stroke_table()), "clip": ("putt.mp4", _clip(folder))}
        with Desk.open(folder / "data") as desk:
            player: UUID = willing_player(desk).id
            sessions = {kind: [str(desk.sessions.create(player).id) for _ in range(times)] for kind in files}
        server = Server(folder / "data")
        server.start()
        try:
            for kind, (file, data) in files.items():
                taken = np.array([once(server, session, file, data) for session in sessions[kind]])
                _tell(kind, taken)
        finally:
            server.stop()


def _tell(kind: str, taken: np.ndarray) -> None:
    shown, analysis = np.median(taken, axis=0)
    late = taken[:, 0] - taken[:, 1]
    print(f"{kind}: first figures after {shown:.2f} s, analysis {analysis:.2f} s (medians of {len(late)})")
    print(
        f"  beyond the analysis: the first {late[0]:+.2f} s, median {np.median(late):+.2f} s, most "
        f"{late.max():+.2f} s; {np.sum(late <= GOAL_S)} within {GOAL_S:g} s"
    )


if __name__ == "__main__":
    main()
