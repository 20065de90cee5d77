"""A motion-capture lab that never was: a putter, a ball and a player's markers, written as C3D and TRC."""

from __future__ import annotations

import struct
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pacewright.core.recording import FloatArray
from pacewright.simulate.sampling import Sampling, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel

ARC_RADIUS_M = 1.45
LIE_RAD = np.radians(70.0)
BALL_KEEPS_M_S2 = 0.6


@dataclass(frozen=True)
class Session:
    """Markers by name, each (n, 3), in a frame with x along the target line, y to the left and z up."""

    time_s: FloatArray
    markers: dict[str, FloatArray]

    @property
    def rate_hz(self) -> float:
        return float(1.0 / np.median(np.diff(self.time_s)))

    def turned(self, rows: list[list[float]]) -> Session:
        """The same in a file's frame whose axes, in ours, are ``rows``."""
        return Session(self.time_s, {name: p @ np.array(rows).T for name, p in self.markers.items()})

    def without(self, *names: str) -> Session:
        return Session(self.time_s, {name: p for name, p in self.markers.items() if name not in names})


def putting(*, body: bool = True, strokes: int = 2, rate_hz: float = 240.0, seed: int = 1) -> Session:
    """Putts with a head that swings on a tilted arc, the rest of the putter, a ball, and a standing body."""
    rng = np.random.default_rng(seed)
    sampling = Sampling(rate_hz=rate_hz, noise_m=1e-12)
    models = [StrokeModel(backswing_length_m=0.2 + 0.03 * k) for k in range(strokes)]
    recorded = record_trajectory(models, rng, sampling)
    head = recorded.recording.traces["head"]
    time_s, x = head.time_s, head.values[:, 0]
    x = x - np.median(x[: int(0.5 * rate_hz)])
    impact_s = recorded.takeaway_s[-1] + models[-1].impact_time_s
    markers = {"putter:toe": _on_arc(x, ARC_RADIUS_M), "putter:shaft": _on_arc(x, 0.75 * ARC_RADIUS_M)}
    markers["ball"] = _ball(time_s, impact_s, models[-1].impact_speed_m_s * 1.65)
    if body:
        markers |= _body(time_s, x)
    noisy = {name: place + rng.normal(0, 1e-4, place.shape) for name, place in markers.items()}
    return Session(time_s, noisy)


def _on_arc(x: FloatArray, radius_m: float) -> FloatArray:
    angle = np.arcsin(x / ARC_RADIUS_M)
    rise = radius_m * (1 - np.cos(angle)) + ARC_RADIUS_M - radius_m
    return np.column_stack([radius_m * np.sin(angle), rise * np.cos(LIE_RAD), rise * np.sin(LIE_RAD) + 0.02])


def _ball(time_s: FloatArray, impact_s: float, speed_m_s: float) -> FloatArray:
    since = np.clip(time_s - impact_s, 0.0, speed_m_s / BALL_KEEPS_M_S2)
    x = 0.05 + speed_m_s * since - BALL_KEEPS_M_S2 * since**2 / 2
    return np.column_stack([x, np.zeros_like(x), np.full_like(x, 0.021)])


def _body(time_s: FloatArray, x: FloatArray) -> dict[str, FloatArray]:
    """Twelve markers from the feet to the head of a player on the left of the line; the hands swing."""
    spots = {
        "LFOOT": (0.2, 0.8, 0.05),
        "RFOOT": (-0.2, 0.8, 0.05),
        "LKNEE": (0.2, 0.7, 0.5),
        "RKNEE": (-0.2, 0.7, 0.5),
        "LHIP": (0.15, 0.9, 0.95),
        "RHIP": (-0.15, 0.9, 0.95),
        "LSHOULDER": (0.2, 0.6, 1.35),
        "RSHOULDER": (-0.2, 0.6, 1.35),
        "CAP": (0.0, 0.4, 1.6),
        "STERNUM": (0.0, 0.6, 1.25),
    }
    sway = 0.004 * np.sin(2 * np.pi * 0.3 * time_s)
    body = {
        name: np.array(spot) + np.column_stack([sway * spot[2], 0 * x, 0 * x]) for name, spot in spots.items()
    }
    body |= {f"{side}HAND": _on_arc(x, 0.6) + np.array([0.02 * k, 0, 0]) for k, side in enumerate("LR")}
    return body


def write_c3d(
    session: Session, path: Path, *, unit: str = "mm", unseen: dict[str, slice] | None = None
) -> None:
    """The session as a C3D file."""
    import ezc3d

    factor = {"mm": 1000.0, "m": 1.0, "cm": 100.0}[unit]
    file = ezc3d.c3d()
    places = np.stack(list(session.markers.values())) * factor
    file["parameters"]["POINT"]["RATE"]["value"] = [session.rate_hz]
    file["parameters"]["POINT"]["LABELS"]["value"] = list(session.markers)
    file["parameters"]["POINT"]["UNITS"]["value"] = [unit]
    points = np.ones((4, places.shape[0], places.shape[1]))
    points[:3] = places.transpose(2, 0, 1)
    residuals = np.zeros((1, *places.shape[:2]))
    for name, frames in (unseen or {}).items():
        marker = list(session.markers).index(name)
        points[:3, marker, frames] = np.nan
        residuals[0, marker, frames] = -1
    file["data"]["points"] = points
    file["data"]["meta_points"]["residuals"] = residuals
    # The writer of the library minds the ending; the reader must not.
    written = path.with_suffix(".c3d")
    file.write(str(written))
    written.rename(path)


def c3d_bytes(
    places_mm: FloatArray,
    labels: list[str],
    *,
    processor: int = 84,
    floats: bool = True,
    analog_words: int = 0,
) -> bytes:
    """A C3D file from its published layout: places (f, m, 3), nan where unseen; 84 Intel, 85 DEC, 86 MIPS."""
    order = ">" if processor == 86 else "<"
    frames, count, _ = places_mm.shape
    scale = -1.0 if floats else 0.1

    def real(value: float) -> bytes:
        if processor != 85:
            return struct.pack(f"{order}f", value)
        high, low = struct.unpack(">HH", struct.pack(">f", value * 4.0))
        return struct.pack("<HH", high, low)

    def record(group: int, name: str, body: bytes) -> bytes:
        return (
            struct.pack("bb", len(name), group)
            + name.encode()
            + struct.pack(f"{order}H", len(body) + 2)
            + body
        )

    width = max(len(label) for label in labels)
    texts = b"".join(label.ljust(width).encode() for label in labels)
    records = b"".join(
        [
            record(1, "RATE", struct.pack("bB", 4, 0) + real(120.0)),
            record(1, "LABELS", struct.pack("bBBB", -1, 2, width, count) + texts),
            record(1, "LONG_FRAMES", struct.pack("bB", 4, 0) + real(float(frames))),
            record(1, "UNITS", struct.pack("bBB", -1, 1, 2) + b"mm"),
            record(-1, "POINT", b"\0"),
        ]
    )
    section = struct.pack("BBBB", 1, 0x50, 1 + (len(records) + 5) // 512, processor) + records
    section = section.ljust(512 * section[2], b"\0")
    data_block = 2 + section[2]
    header = struct.pack("BB", 2, 0x50) + struct.pack(
        f"{order}5H", count, analog_words, 1, min(frames, 65_535), 10
    )
    header += real(scale) + struct.pack(f"{order}HH", data_block, 1) + real(120.0)
    words: list[bytes] = []
    for frame in places_mm:
        for x, y, z in frame:
            four = (0.0, 0.0, 0.0, -1.0) if np.isnan(x) else (x, y, z, 0.0)
            if floats:
                words += [real(figure) for figure in four]
            else:
                scaled = [round(figure / scale) for figure in four[:3]]
                words.append(struct.pack(f"{order}4h", *scaled, int(four[3])))
        words += [real(7.0) if floats else struct.pack(f"{order}h", 7)] * analog_words
    return header.ljust(512, b"\0") + section + b"".join(words)


def trc_text(session: Session, *, unit: str = "mm", blank_line: bool = True, end: str = "\n") -> str:
    """The session as the text of a TRC file."""
    factor = {"mm": 1000.0, "m": 1.0}[unit]
    names, frames = list(session.markers), session.time_s.size
    rate = f"{session.rate_hz:.2f}"
    lines = [
        "PathFileType\t4\t(X/Y/Z)\tputts.trc",
        "DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames",
        f"{rate}\t{rate}\t{frames}\t{len(names)}\t{unit}\t{rate}\t1\t{frames}",
        "Frame#\tTime\t" + "\t\t\t".join(names) + "\t\t",
        "\t\t" + "\t".join(f"{axis}{k}" for k in range(1, len(names) + 1) for axis in "XYZ"),
        *([""] if blank_line else []),
    ]
    places = np.concatenate(list(session.markers.values()), axis=1) * factor
    for k in range(frames):
        cells = "\t".join("" if np.isnan(value) else f"{value:.5f}" for value in places[k])
        lines.append(f"{k + 1}\t{session.time_s[k] - session.time_s[0]:.6f}\t{cells}")
    return end.join(lines) + end
