"""The desk as it is really served, in a process of its own that a test may kill; and people on it."""

from __future__ import annotations

import datetime as dt
import os
import random
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path
from urllib.error import URLError

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.practice import PlanRequest
from pacewright.app.desk.putts import NewPutt
from pacewright.app.desk.views import SessionView
from pacewright.core.outcome import Outcome
from tests.app.clip_scene import Scene, write_clip
from tests.app.desk.people import add_recording, willing_player


def free_port() -> int:
    """A port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Server:
    """`pacewright serve` on a data folder."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.port = folder, free_port()
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def is_alive(self) -> bool:
        """Whether its process runs."""
        return self._process is not None and self._process.poll() is None

    def start(self) -> None:
        """Start it and wait for its first answer."""
        command = [
            sys.executable,
            "-m",
            "pacewright",
            "serve",
            "--port",
            str(self.port),
            "--data",
            str(self.folder),
        ]
        quiet = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            command, env=os.environ | quiet, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        until = time.monotonic() + 60.0
        while time.monotonic() < until:
            try:
                with urllib.request.urlopen(f"{self.url}/api/v1/health", timeout=1.0):
                    return
            except (URLError, OSError):
                time.sleep(0.1)
        raise AssertionError("The server does not answer.")

    def kill(self) -> None:
        """End it without a warning, as a power cut would."""
        assert self._process is not None
        self._process.kill()
        self._process.wait()

    def stop(self) -> None:
        """End it in good order."""
        if self._process is not None and self.is_alive:
            self._process.terminate()
            self._process.wait(20)


def seed(folder: Path) -> None:
    """A green, and a player with four days of putts, two recordings (one analysed already) and a plan."""
    from pacewright.app.desk.workers import work_once

    rng = random.Random(4)
    with Desk.open(folder) as desk:
        green = desk.greens.create("North green", 3.05)
        desk.greens.measure(green.id, [2.6, 2.7, 2.65], [3.4, 3.5, 3.45])
        player = willing_player(desk, "Ida Morwenna")
        desk.putters.create(player.id, "Mallet 34")
        for month, kind in ((8, "first test"), (9, "practice"), (10, "lesson"), (11, "retention test")):
            session = desk.sessions.create(
                player.id, held_on=dt.date(2025, month, 3), green_id=green.id, kind=kind
            )
            desk.putts.add(session.id, _putts(rng, 0.28 - 0.02 * month))
            desk.sessions.end(session.id)
        add_recording(desk, _last(desk), asked_m=3.6576)
        work_once(desk._context)
        desk.plans.make(player.id, PlanRequest((1.5, 3.0, 6.0), dt.date(2025, 12, 1), green_id=green.id))
        tom = willing_player(desk, "Tom Öster")
        session = desk.sessions.create(tom.id, held_on=dt.date(2025, 11, 4), green_id=green.id)
        with (_clip(folder.parent)).open("rb") as clip:
            desk.recordings.add(session.id, "putt-120.mp4", clip, asked_m=3.0)
        desk.sessions.end(session.id)
        work_once(desk._context)


def _clip(folder: Path) -> Path:
    """A film of one putt from above at 120 pictures a second."""
    scene = Scene()
    path = folder / "putt-120.mp4"
    write_clip(path, scene.pictures(), scene.play_rate_hz)
    return path


def _last(desk: Desk) -> SessionView:
    return desk.sessions.list(limit=1).items[0]


def _putts(rng: random.Random, spread: float) -> list[NewPutt]:
    lengths = (3.0, 4.5, 6.0) * 8
    return [
        NewPutt(
            asked, Outcome(asked * (1.0 + rng.gauss(0.02, spread)), 0.0), block=f"b{k % 3}",
            beats_per_minute=(72.0, 84.0, 96.0)[k % 3],
        )
        for k, asked in enumerate(lengths)
    ]  # fmt: skip
