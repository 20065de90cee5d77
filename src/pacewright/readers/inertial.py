"""Inertial-sensor tables: turning rate and acceleration along the sensor's own axes."""

from __future__ import annotations

from collections.abc import Collection
from typing import BinaryIO

import numpy as np

from pacewright.core.measure import Remark
from pacewright.core.recording import FloatArray, Recording, Trace
from pacewright.core.units import STANDARD_GRAVITY_M_S2
from pacewright.readers.checks import Limits, clipped_remark, wanders
from pacewright.readers.columns import Column, find_columns, target_name, wanted_targets
from pacewright.readers.layout import TableLayout, find_layout
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source
from pacewright.readers.shared import (
    MOTION_CAPTURE_ONLY,
    complete_trace,
    given_radius,
    ignored_remarks,
    mirrored_remarks,
)
from pacewright.readers.table import open_layout, read_timed

_GYRO = ("gyro_x", "gyro_y", "gyro_z")
_ACCEL = ("accel_x", "accel_y", "accel_z")
_TURNING = Limits(300.0, "rad/s")
_ACCELERATION = Limits(5000.0, "m/s²")
_FASTEST_TURN_RAD_S = 30.0
"""A putter that is swung stays far below (1700 °/s); figures in °/s that are called rad/s do not."""
_SLOWEST_SWING_RAD_S = 0.1
_GRAVITY_BAND = (0.6, 1.6)
_NO_GRAVITY_SHARE = 0.3
_FEWEST_SAMPLES = 20


class InertialReader:
    """Tables with three axes of turning rate (``gyro_x_rad_s``) and, as a rule, of acceleration."""

    name = "inertial-csv"

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        """Fairly sure when the table names a turning rate or an acceleration."""
        layout = find_layout(head, options.delimiter, options.decimal)
        if layout is None:
            return 0.0
        return 0.8 if wanted_targets(layout, options.columns) & {*_GYRO, *_ACCEL} else 0.0

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        """Turning rate in rad/s and acceleration in m/s², each with its own times."""
        layout = open_layout(stream, options)
        columns = find_columns(layout, options.columns, ("time", *_GYRO, *_ACCEL), source)
        _check_axes(columns, layout, source)
        targets = [target for target in columns if target != "time"]
        limits = [_TURNING if target in _GYRO else _ACCELERATION for target in targets]
        timed = read_timed(stream, layout, columns, limits, source, options)
        figures = {target: timed.values[:, k] for k, target in enumerate(targets)}
        useless = (*MOTION_CAPTURE_ONLY, "target_axis", "timing_sd_s")
        remarks = [*timed.remarks, *ignored_remarks(options, useless, "an inertial sensor")]
        gyro = complete_trace(timed.time_s, figures, _GYRO, "gyroscope", remarks)
        accel = complete_trace(timed.time_s, figures, _ACCEL, "accelerometer", remarks)
        if gyro is None or gyro.time_s.size < _FEWEST_SAMPLES:
            seen = 0 if gyro is None else gyro.time_s.size
            raise source.error(
                f"column '{columns['gyro_x'].name}': {seen} samples with all three axes; "
                "a stroke needs a few hundred."
            )
        _check_turning(gyro.values, columns["gyro_x"], source)
        traces = {"gyro": gyro}
        if accel is not None and _has_gravity(accel.values, columns["accel_x"].name, source, remarks):
            traces["accel"] = accel
        remarks += _clipped(traces)
        if options.left_handed:
            traces = {name: _mirrored(name, trace) for name, trace in traces.items()}
        return Recording(
            "inertial",
            traces,
            source.provenance(self.name, options),
            mirrored=options.left_handed,
            arc_radius_m=given_radius(options),
            remarks=tuple(remarks) + mirrored_remarks(options, "along the sensor's y axis"),
        )


def _check_axes(found: Collection[str], layout: TableLayout, source: Source) -> None:
    """All three axes of the gyroscope, and all or none of the accelerometer."""
    missing = [target for target in _GYRO if target not in found]
    if any(target in found for target in _ACCEL):
        missing += [target for target in _ACCEL if target not in found]
    if missing:
        names = ", ".join(f"'{name}'" for name in layout.names)
        raise source.error(
            f"line {layout.header_line}: no column is {', '.join(missing)}; the file has {names}. "
            f"Say which they are, such as --columns {target_name(missing[0])}=NAME."
        )


def _check_turning(rate: FloatArray, column: Column, source: Source) -> None:
    """Refuse turning rates (n, 3) that only make sense in the other unit of angle."""
    fastest = float(np.quantile(np.abs(rate).max(axis=1), 0.999))
    swung = rate[:, int(np.argmax(rate.std(axis=0)))]
    if fastest > _FASTEST_TURN_RAD_S and column.factor == 1.0:
        what, unit = f"turns at {fastest:.4g} rad/s, which no putter does", "deg_s"
    elif fastest < _SLOWEST_SWING_RAD_S < fastest / column.factor and wanders(swung):
        what, unit = f"swings at {np.degrees(fastest):.2g} °/s at most, which no putter does", "rad_s"
    else:
        return
    raise source.error(
        f"column '{column.name}' {what}; its figures look like {unit.replace('_', '/')}. "
        f"Say so: --columns gyro_x_{unit}={column.name} and so on."
    )


def _has_gravity(accel: FloatArray, name: str, source: Source, remarks: list[Remark]) -> bool:
    """Whether the accelerometer feels its weight: False, with a remark, when that was taken out.

    Raises ReadError when what it feels is one g in another unit.
    """
    felt = float(np.median(np.sqrt((accel**2).sum(axis=1)))) / STANDARD_GRAVITY_M_S2
    low, high = _GRAVITY_BAND
    if low <= felt <= high:
        return True
    for unit, felt_then in (("g", felt * STANDARD_GRAVITY_M_S2), ("m_s2", felt / STANDARD_GRAVITY_M_S2)):
        if low <= felt_then <= high and (unit == "g") == (felt < 1.0):
            raise source.error(
                f"column '{name}': at rest the sensor feels {felt * STANDARD_GRAVITY_M_S2:.3g} m/s² rather "
                f"than {STANDARD_GRAVITY_M_S2:.2f}; the figures look like {unit.replace('_s2', '/s²')}. "
                f"Say so: --columns accel_x_{unit}={name} and so on."
            )
    what = "no weight" if felt < _NO_GRAVITY_SHARE else f"{felt:.2g} times its weight"
    remarks.append(
        Remark("no-gravity", f"The accelerometer feels {what}: it cannot tell the vertical and was left out.")
    )
    return False


def _clipped(traces: dict[str, Trace]) -> list[Remark]:
    told = [
        clipped_remark(traces[name].values, traces[name].axes, what, unit)
        for name, what, unit in (("gyro", "gyroscope", "rad/s"), ("accel", "accelerometer", "m/s²"))
        if name in traces
    ]
    return [remark for remark in told if remark is not None]


def _mirrored(name: str, trace: Trace) -> Trace:
    """The trace as a mirror along the sensor's y axis would record it.

    Acceleration is a vector and changes its sign along the axis; a turning rate is a pseudovector and
    changes it along the other two.
    """
    signs = np.array([1.0, -1.0, 1.0]) if name == "accel" else np.array([-1.0, 1.0, -1.0])
    return Trace(trace.time_s, trace.values * signs, trace.axes, trace.confidence)
