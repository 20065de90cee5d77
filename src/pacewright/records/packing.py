"""Arrays packed for the database: numpy's own archive format, compressed; never pickles."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np

from pacewright.core.clip import ClipTrack
from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import Provenance, Recording, Trace
from pacewright.core.stroke import StrokeCurve


def pack_curve(curve: StrokeCurve) -> bytes:
    """A stroke's curve."""
    return _pack(
        {
            "time_s": curve.time_s, "position_m": curve.position_m, "speed_m_s": curve.speed_m_s,
            "speed_after_m_s": np.array(curve.speed_after_m_s),
        },
        {},
    )  # fmt: skip


def unpack_curve(packed: bytes) -> StrokeCurve:
    """As `pack_curve` packed it."""
    arrays, _ = _unpack(packed)
    return StrokeCurve(
        arrays["time_s"], arrays["position_m"], arrays["speed_m_s"], float(arrays["speed_after_m_s"])
    )


def pack_recording(recording: Recording) -> bytes:
    """A recording with its traces and what was seen in its clip, to measure again without the file."""
    arrays: dict[str, Any] = {}
    traces = {}
    for name, trace in recording.traces.items():
        arrays[f"{name}/time_s"], arrays[f"{name}/values"] = trace.time_s, trace.values
        if trace.confidence is not None:
            arrays[f"{name}/confidence"] = trace.confidence
        traces[name] = list(trace.axes)
    arc = recording.arc_radius_m
    told: dict[str, Any] = {
        "kind": recording.kind,
        "traces": traces,
        "provenance": [
            recording.provenance.source, recording.provenance.sha256, recording.provenance.reader,
            dict(recording.provenance.settings),
        ],
        "mirrored": recording.mirrored,
        "arc": None if arc is None else [arc.value, arc.sd, arc.method],
        "scale_relative_sd": recording.scale_relative_sd,
        "place_bias_m": recording.place_bias_m,
        "remarks": [[remark.code, remark.text] for remark in recording.remarks],
    }  # fmt: skip
    if recording.clip is not None:
        told["clip"] = {}
        for field in fields(recording.clip):
            value = getattr(recording.clip, field.name)
            if isinstance(value, np.ndarray):
                arrays[f"clip/{field.name}"] = value
            else:
                told["clip"][field.name] = value
    return _pack(arrays, told)


def unpack_recording(packed: bytes) -> Recording:
    """As `pack_recording` packed it; strokes timed by hand are not in it."""
    arrays, told = _unpack(packed)
    source, sha256, reader, settings = told["provenance"]
    return Recording(
        kind=told["kind"],
        traces={
            name: Trace(
                arrays[f"{name}/time_s"],
                arrays[f"{name}/values"],
                tuple(axes),
                arrays.get(f"{name}/confidence"),
            )
            for name, axes in told["traces"].items()
        },
        provenance=Provenance(source, sha256, reader, settings),
        mirrored=told["mirrored"],
        arc_radius_m=None if told["arc"] is None else Measure(*told["arc"]),
        scale_relative_sd=told["scale_relative_sd"],
        place_bias_m=told.get("place_bias_m", 0.0),  # older ones do not tell it
        remarks=tuple(Remark(code, text) for code, text in told["remarks"]),
        clip=_clip(arrays, told.get("clip")),
    )


def _clip(arrays: Mapping[str, Any], told: Mapping[str, Any] | None) -> ClipTrack | None:
    if told is None:
        return None
    values = dict(told) | {name[5:]: array for name, array in arrays.items() if name.startswith("clip/")}
    values["picture_size_px"] = tuple(values["picture_size_px"])
    known = {field.name for field in fields(ClipTrack)}
    return ClipTrack(**{name: value for name, value in values.items() if name in known})


def _pack(arrays: Mapping[str, Any], told: Mapping[str, Any]) -> bytes:
    stream = io.BytesIO()
    text = np.frombuffer(json.dumps(told).encode(), dtype=np.uint8)
    np.savez_compressed(stream, allow_pickle=False, **arrays, **{"": text})
    return stream.getvalue()


def _unpack(packed: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    with np.load(io.BytesIO(packed), allow_pickle=False) as archive:
        arrays = {name: archive[name] for name in archive.files}
    return arrays, json.loads(arrays.pop("").tobytes())
