"""Invented people and recordings for the tests of the desk."""

from __future__ import annotations

import io
from functools import cache
from uuid import UUID

from pacewright.app.demo import GREEN, recording_csv
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.putts import NewPutt
from pacewright.app.desk.views import PlayerView, RecordingView, SessionView
from pacewright.app.putting import ball_speed_ratio, launch_for_length
from pacewright.ball.impact import head_speed_kept
from pacewright.core.equipment import Putter
from pacewright.core.measure import Measure
from pacewright.core.outcome import Outcome
from pacewright.core.units import FOOT_M
from pacewright.simulate.demo_club import PLAYERS, DemoPutt, demo_recording


def willing_player(desk: Desk, name: str = "Ida Morwenna") -> PlayerView:
    """A grown-up who agreed to being recorded."""
    player = desk.players.create(name, birth_year=1980)
    desk.consents.give(player.id, "recording", "player", how="said in the lesson")
    return desk.players.get(player.id)


@cache
def stroke_table(seed: int = 1, feet: int = 12) -> bytes:
    """A recording of two rehearsals and eight putts as CSV."""
    putter, length_m = Putter(), feet * FOOT_M
    speed = launch_for_length(length_m, GREEN).launch_speed_m_s / ball_speed_ratio(putter)
    putt = DemoPutt(length_m, speed)
    recording = demo_recording(PLAYERS[0], putt, speed_kept=head_speed_kept(putter), seed=seed)
    return recording_csv(recording).encode()


def add_recording(
    desk: Desk,
    session: SessionView,
    *,
    seed: int = 1,
    name: str = "putts-12ft.csv",
    asked_m: float | None = None,
) -> RecordingView:
    """Keep a recording; its analysis waits in the queue."""
    return desk.recordings.add(session.id, name, io.BytesIO(stroke_table(seed)), asked_m=asked_m)


def some_putts(count: int, *, first: int = 0, prefix: str = "p", error: float = 0.1) -> list[NewPutt]:
    """Putts of 3 m that miss by turns, with a measure each."""
    return [
        NewPutt(
            3.0,
            Outcome(3.0 * (1.0 + error * (((k * 7) % 11) - 5) / 5.0), 0.02 * ((k % 3) - 1)),
            client_id=f"{prefix}{first + k}",
            measures={"backswing_length_m": Measure(0.25 + 0.002 * (k % 5), 0.001, "simulated")},
        )
        for k in range(count)
    ]


def ids(items: object) -> list[UUID]:
    """The identifiers of views."""
    return [item.id for item in items]  # type: ignore[attr-defined]
