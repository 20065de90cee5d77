"""Trajectory tables: the head's place, and the ball's, at times."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np

from pacewright.core.measure import Measure
from pacewright.core.recording import FloatArray, Recording, Trace
from pacewright.readers.checks import FARTHEST_M, Limits, check_places
from pacewright.readers.columns import Column, find_columns, wanted_targets
from pacewright.readers.layout import find_layout
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source
from pacewright.readers.shared import complete_trace, given_radius, mirrored_remarks
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
        layout = open_layout(stream, source, options)
        columns = find_columns(layout, options.columns, ("time", *_HEAD, "head_angle", *_BALL), source)
        targets = [target for target in columns if target != "time"]
        limits = [_ANGLE if target == "head_angle" else _PLACE for target in targets]
        timed = read_timed(stream, layout, columns, limits, source, options)
        remarks = list(timed.remarks)
        figures = {target: timed.values[:, k] for k, target in enumerate(targets)}
        if "head_x" in figures:
            check_places(figures["head_x"], columns["head_x"], source)
        scale_relative_sd = 0.0
        if "head_angle" in figures and "head_x" not in figures:
            radius = _needed_radius(options, source)
            figures |= _on_arc(figures.pop("head_angle"), radius.value)
            scale_relative_sd = radius.sd / radius.value
        if options.left_handed:
            figures = {name: -v if name.endswith("_y") else v for name, v in figures.items()}
        head = complete_trace(timed.time_s, figures, _HEAD, "head", remarks)
        if head is None or head.time_s.size < _FEWEST_SAMPLES:
            raise source.error(_too_few(head, columns))
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
