"""Trajectory tables: the head's place, and the ball's, at times."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np

from pacewright.core.errors import SettingsError
from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray, Recording, Trace
from pacewright.readers.checks import FARTHEST_M, Limits, check_places, cut_off_remark
from pacewright.readers.columns import Column, find_columns, wanted_targets
from pacewright.readers.layout import find_layout
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source
from pacewright.readers.shared import (
    ARC_RADIUS,
    MOTION_CAPTURE_ONLY,
    complete_trace,
    given_radius,
    ignored_remarks,
    mirrored_remarks,
)
from pacewright.readers.table import open_layout, read_timed

_HEAD = ("head_x", "head_y", "head_z")
_BALL = ("ball_x", "ball_y")
_PLACE = Limits(FARTHEST_M, "m")
_ANGLE = Limits(100.0, "rad")
_FEWEST_SAMPLES = 5


class TrajectoryReader:
    """Tables with ``head_x_m`` (and y, z, the ball's), or ``head_angle_rad`` on a known arc radius."""

    name = "trajectory-csv"

    def recognises(self, head: bytes, options: ReadOptions) -> float:
        """Sure when the table names the head's place or its angle."""
        layout = find_layout(head, options.delimiter, options.decimal)
        if layout is None:
            return 0.0
        offered = wanted_targets(layout, options.columns)
        return 0.9 if offered & {"head_x", "head_angle"} else 0.0

    def read(self, stream: BinaryIO, source: Source, options: ReadOptions) -> Recording:
        """Head and ball as traces on times of their own."""
        layout = open_layout(stream, options)
        columns = find_columns(layout, options.columns, ("time", *_HEAD, "head_angle", *_BALL), source)
        targets = [target for target in columns if target != "time"]
        limits = [_ANGLE if target == "head_angle" else _PLACE for target in targets]
        timed = read_timed(stream, layout, columns, limits, source, options)
        is_angle = "head_x" not in columns
        useless = (*MOTION_CAPTURE_ONLY, "timing_sd_s", *(() if is_angle else ARC_RADIUS))
        remarks = [*timed.remarks, *ignored_remarks(options, useless, "a table of the head's places")]
        figures = {target: timed.values[:, k] for k, target in enumerate(targets)}
        if "head_x" in figures:
            check_places(figures["head_x"], columns["head_x"], source)
        scale_relative_sd = 0.0
        if is_angle:
            radius = _needed_radius(options, source)
            figures |= _on_arc(figures.pop("head_angle"), radius.value)
            scale_relative_sd = radius.sd / radius.value
        if _is_backwards(options):
            figures = {name: v if name.endswith("_z") else -v for name, v in figures.items()}
        if options.left_handed:
            figures = {name: -v if name.endswith("_y") else v for name, v in figures.items()}
        head = complete_trace(timed.time_s, figures, _HEAD, "head", remarks)
        if head is None or head.time_s.size < _FEWEST_SAMPLES:
            raise source.error(_too_few(head, columns))
        remarks += filter(None, [cut_off_remark(head)])
        traces = {"head": head}
        ball = complete_trace(timed.time_s, figures, _BALL, "ball", remarks, seen_throughout=False)
        if ball is not None:
            traces["ball"] = ball
        return Recording(
            "trajectory",
            traces,
            source.provenance(self.name, options),
            mirrored=options.left_handed,
            arc_radius_m=given_radius(options),
            scale_relative_sd=scale_relative_sd,
            remarks=tuple(remarks) + mirrored_remarks(options, "across the target line"),
        )


def _is_backwards(options: ReadOptions) -> bool:
    """Whether the table's x points away from the target. Raises SettingsError for another axis than x."""
    axis = (options.target_axis or "x").lower().lstrip("+")
    if axis not in ("x", "-x"):
        raise SettingsError(
            f"In a table x runs along the target line, not {options.target_axis}: say x, or -x if it points "
            "away from the target, and map other names (--columns head_x_m=Y)."
        )
    return axis == "-x"


def _needed_radius(options: ReadOptions, source: Source) -> Measure:
    radius = given_radius(options)
    if radius is None:
        raise source.error("the head is given as an angle; give the arc radius too (--arc-radius 1.35m).")
    return radius


def _on_arc(angle_rad: FloatArray, radius_m: float) -> dict[str, FloatArray]:
    """Places of a head at an angle (n,) from straight down, swinging on an arc of that radius."""
    return {"head_x": radius_m * np.sin(angle_rad), "head_z": radius_m * (1.0 - np.cos(angle_rad))}


def _too_few(head: Trace | None, columns: dict[str, Column]) -> str:
    name = (columns.get("head_x") or columns["head_angle"]).name
    if head is None:
        return f"column '{name}': not one figure in it; every cell is missing."
    return f"column '{name}': {head.time_s.size} samples are too few; a stroke needs a few hundred."
