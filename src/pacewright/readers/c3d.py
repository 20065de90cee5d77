"""C3D motion capture: the head's marker, and the ball's where there is one."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np

from pacewright.core.errors import ReadError, SettingsError
from pacewright.core.recording import Recording
from pacewright.core.units import factor_to_si
from pacewright.readers.c3d_format import KEY, C3dPoints, parse_c3d
from pacewright.readers.markers import MarkerSet, marker_recording
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source

_LATEST_PARAMETER_BLOCK = 20
_RATES_HZ = (5.0, 50_000.0)


class C3dReader:
    """Motion capture in the C3D format."""

    name = "c3d"

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        """Sure by the key byte behind a number of a block."""
        return 1.0 if len(head) > 1 and head[1] == KEY and 2 <= head[0] <= _LATEST_PARAMETER_BLOCK else 0.0

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        """The head's marker along the target line."""
        data = stream.read()
        try:
            points = parse_c3d(data)
        except ReadError as fault:
            raise source.error(f"{fault} The file is damaged or was cut off; export it again.") from None
        if options.progress is not None:
            options.progress(0.5)
        return marker_recording(_markers(points, source, options), self.name, source, options)


def _markers(points: C3dPoints, source: Source, options: ReadOptions) -> MarkerSet:
    rate_hz = options.rate_hz or points.rate_hz
    slowest, fastest = _RATES_HZ
    if not slowest <= rate_hz <= fastest:
        raise source.error(
            f"POINT:RATE: {rate_hz:g} frames a second is no rate of motion capture; "
            "give the true one (--rate)."
        )
    try:
        factor = factor_to_si(points.unit, "length")
    except SettingsError as error:
        raise source.error(f"POINT:UNITS: {error}") from error
    frames = points.places.shape[0]
    return MarkerSet(points.labels, np.arange(frames) / rate_hz, points.places * factor, "z")
