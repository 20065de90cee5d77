"""A real film that nobody made for the purpose: a pendulum's bob, followed on its circle; no ball in it.

Source and licence: tests/data/pendulum-film. The camera is held by hand: the pivot drifts by some pixels.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from pacewright.core.errors import ReadError
from pacewright.tracking.options import ClipOptions, Span
from pacewright.tracking.record import record

FILM = Path(__file__).parents[1] / "data" / "pendulum-film" / "swing-up.mp4"
PIVOT_PX, BOB_PX = (320.0, 187.0), (328.0, 345.0)


def test_no_ball_is_struck_in_it() -> None:
    with pytest.raises(ReadError, match="none was seen to be struck"):
        record(FILM)


def test_the_bob_keeps_its_distance_from_the_pivot() -> None:
    recording = record(FILM, ClipOptions(head=BOB_PX, scale=Span(0.5, PIVOT_PX, BOB_PX)))
    assert recording.clip is not None
    assert recording.clip.frame.size >= 80
    places = recording.clip.head_px
    rows = np.column_stack([2 * places, np.ones(len(places))])
    x, y, rest = np.linalg.lstsq(rows, (places**2).sum(axis=1), rcond=None)[0]
    radius = float(np.sqrt(rest + x**2 + y**2))
    off = np.hypot(places[:, 0] - x, places[:, 1] - y) - radius
    assert float(off.std()) < 0.01 * radius
    assert np.hypot(x - PIVOT_PX[0], y - PIVOT_PX[1]) < 6.0
    assert "no-ball" in {remark.code for remark in recording.remarks}
