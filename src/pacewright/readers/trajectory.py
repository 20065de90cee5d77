"""Trajectory tables: the head's place, and the ball's, at times."""

from __future__ import annotations

from typing import BinaryIO

import numpy as np

from pacewright.core.measure import Measure, Remark
from pacewright.core.recording import FloatArray, Recording, Trace
from pacewright.readers.checks import FARTHEST_M, Limits, check_places
from pacewright.readers.columns import Column, find_columns, wanted_targets
from pacewright.readers.layout import find_layout
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source
from pacewright.readers.table import open_layout, read_timed
from pacewright.readers.times import gap_remarks

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
        for target in ("head_x",):
            if target in figures:
                check_places(figures[target], columns[target], source)
        if "head_angle" in figures and "head_x" not in figures:
            figures |= _on_arc(figures.pop("head_angle"), options, source)
        if options.left_handed:
            figures = {name: -v if name.endswith("_y") else v for name, v in figures.items()}
        head = _trace(timed.time_s, figures, _HEAD, "head", remarks)
        if head is None or head.time_s.size < _FEWEST_SAMPLES:
            raise source.error(_too_few(head, columns))
        traces = {"head": head}
        ball = _trace(timed.time_s, figures, _BALL, "ball", remarks)
        if ball is not None:
            traces["ball"] = ball
        return Recording(
            "trajectory",
            traces,
            source.provenance(self.name, options),
            mirrored=options.left_handed,
            arc_radius_m=given_radius(options),
            remarks=tuple(remarks) + mirrored_remarks(options, "across the target line"),
        )


def given_radius(options: ReadOptions) -> Measure | None:
    """The arc radius of the options with its uncertainty."""
    if options.arc_radius_m is None:
        return None
    return Measure(options.arc_radius_m, options.arc_radius_sd_m, "given")


def mirrored_remarks(options: ReadOptions, how: str) -> tuple[Remark, ...]:
    """What a left-handed recording says about itself."""
    if not options.left_handed:
        return ()
    return (Remark("left-handed-mirrored", f"The player is left-handed: the recording was mirrored {how}."),)


def _on_arc(angle_rad: FloatArray, options: ReadOptions, source: Source) -> dict[str, FloatArray]:
    """Places of a head at an angle (n,) from straight down, swinging on the arc radius."""
    radius = options.arc_radius_m
    if radius is None:
        raise source.error(
            "the head is given as an angle; give the arc radius too (arc_radius, such as 1.35m)."
        )
    return {"head_x": radius * np.sin(angle_rad), "head_z": radius * (1.0 - np.cos(angle_rad))}


def _trace(
    time_s: FloatArray,
    figures: dict[str, FloatArray],
    targets: tuple[str, ...],
    what: str,
    remarks: list[Remark],
) -> Trace | None:
    """The trace of one thing from the samples in which all of its axes are there; None without any.

    An axis missing in most samples is left out rather than the samples.
    """
    along = figures.get(targets[0])
    if along is None or not np.isfinite(along).any():
        return None
    seen = int(np.isfinite(along).sum())
    axes = [t for t in targets if t in figures and 2 * int(np.isfinite(figures[t]).sum()) >= seen]
    values = np.column_stack([figures[target] for target in axes])
    complete = np.isfinite(values).all(axis=1)
    missing = _missing_within(complete) if what == "ball" else int((~complete).sum())
    if missing:
        remarks.append(
            Remark("missing-samples", f"{missing} samples of the {what} are missing and were left out.")
        )
    own_time = time_s[complete]
    if missing:
        remarks.extend(Remark(r.code, f"{what}: {r.text}") for r in gap_remarks(own_time) if r not in remarks)
    return Trace(own_time, values[complete], tuple(target[-1] for target in axes))


def _missing_within(complete: FloatArray) -> int:
    """Missing samples between the first and the last that are there: a ball is out of sight before and after."""
    there = np.flatnonzero(complete)
    return int((~complete[there[0] : there[-1] + 1]).sum()) if there.size else 0


def _too_few(head: Trace | None, columns: dict[str, Column]) -> str:
    name = (columns.get("head_x") or columns["head_angle"]).name
    if head is None:
        return f"column '{name}': not one figure in it; every cell is missing."
    return f"column '{name}': {head.time_s.size} samples are too few; a stroke needs a few hundred."
