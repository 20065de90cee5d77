"""Markers of motion capture become a head in Pacewright's frame.

The head's marker is the one named by option, or the one that moves like a putter head (see
`head_marker`). Up is the axis along which a body stands, or towards which the head's path curves; the
target line is the head's direction as it passes its place at address, which is the origin.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pacewright.core.measure import Remark
from pacewright.core.recording import FloatArray, Recording, Trace
from pacewright.readers.head_marker import HeadSwing, fastest_swing, loose_swing, speed_of
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import Source
from pacewright.readers.shared import (
    ARC_RADIUS,
    complete_trace,
    given_radius,
    ignored_remarks,
    mirrored_remarks,
)

_AXES = "xyz"
_FEWEST_FRAMES = 20
_BODY_MARKERS = 8
_BODY_HEIGHT_M = 1.0
_LONGER_THAN_WIDE = 1.5
_HEAD_WORDS = ("head", "putter", "club", "toe", "heel", "face")
_NAMED_BONUS = 1.5
_CURVED_PER_M = 0.1
_MORE_CURVED = 1.5
_GLIMPSES = 500


@dataclass(frozen=True, slots=True)
class MarkerSet:
    """Places of markers: ``time_s`` (f,), ``xyz_m`` (f, m, 3), nan where a marker was not seen.

    ``usual_up`` is the axis that points up in most files of the format.
    """

    labels: tuple[str, ...]
    time_s: FloatArray
    xyz_m: FloatArray
    usual_up: str
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class _Chosen:
    """A marker as the head, its best swing, and the direction that is up (unit, (3,))."""

    index: int
    swing: HeadSwing
    up: FloatArray


def marker_recording(markers: MarkerSet, reader: str, source: Source, options: ReadOptions) -> Recording:
    """The recording of the head's marker, and of the ball's.

    Raises ReadError, with the names of the markers, when the one asked for is not there or none moves
    like a head.
    """
    if markers.time_s.size < _FEWEST_FRAMES:
        raise source.error(f"it holds {markers.time_s.size} frames; a stroke needs a few hundred.")
    chosen = _named(markers, options, source) if options.marker else _like_a_head(markers, options, source)
    axes = _frame(chosen, options)
    origin = chosen.swing.address_m
    useless = (*ARC_RADIUS, "columns", "delimiter", "decimal", "timing_sd_s")
    remarks = [*markers.remarks, *ignored_remarks(options, useless, "motion capture")]
    remarks.append(_chosen_remark(markers, chosen, axes, named=options.marker is not None))
    head = _trace(markers, chosen.index, axes, origin, ("head_x", "head_y", "head_z"), options, remarks)
    assert head is not None
    traces = {"head": head}
    ball_index = _ball_index(markers, options, source)
    if ball_index is not None and ball_index != chosen.index:
        ball = _trace(markers, ball_index, axes, origin, ("ball_x", "ball_y"), options, remarks)
        if ball is not None:
            traces["ball"] = ball
    return Recording(
        "trajectory",
        traces,
        source.provenance(reader, replace(options, marker=markers.labels[chosen.index])),
        mirrored=options.left_handed,
        arc_radius_m=given_radius(options),
        remarks=tuple(remarks) + mirrored_remarks(options, "across the target line"),
    )


def _named(markers: MarkerSet, options: ReadOptions, source: Source) -> _Chosen:
    assert options.marker is not None
    index = _index_of(markers, options.marker, source)
    places = markers.xyz_m[:, index]
    if np.isfinite(places[:, 0]).sum() < _FEWEST_FRAMES:
        raise source.error(
            f"marker '{markers.labels[index]}' is hardly seen; choose another (--marker NAME)."
        )
    up = _known_up(markers, options)
    up = _guessed_up(markers, index) if up is None else up
    swing = fastest_swing(markers.time_s, places, up) or loose_swing(markers.time_s, places, up)
    return _Chosen(index, swing, up)


def _like_a_head(markers: MarkerSet, options: ReadOptions, source: Source) -> _Chosen:
    """The marker that moves most like a head: the fastest of those that swing like one."""
    fastest, who, second = _two_fastest(markers)
    known_up = _known_up(markers, options)
    best: _Chosen | None = None
    best_score = 0.0
    for index, label in enumerate(markers.labels):
        if 2 * np.isfinite(markers.xyz_m[:, index, 0]).sum() < markers.time_s.size:
            continue
        up = _guessed_up(markers, index) if known_up is None else known_up
        floor_m = _floor(markers, up)
        others_m_s = np.where(who == index, second, fastest)
        places = markers.xyz_m[:, index]
        swing = fastest_swing(markers.time_s, places, up, floor_m=floor_m, others_m_s=others_m_s)
        if swing is None:
            continue
        bonus = _NAMED_BONUS if any(word in label.lower() for word in _HEAD_WORDS) else 1.0
        if swing.speed_m_s * bonus > best_score:
            best, best_score = _Chosen(index, swing, up), swing.speed_m_s * bonus
    if best is None:
        raise source.error(
            "no marker moves like a putter head (back from rest, then faster forward, straight and low). "
            f"The markers are {_listed(markers)}; choose one with --marker NAME if one is on the putter."
        )
    return best


def _two_fastest(markers: MarkerSet) -> tuple[FloatArray, NDArray[np.intp], FloatArray]:
    """Speed of the fastest marker at each time (f,), which it is (f,), and the speed of the second (f,)."""
    fastest, second = np.zeros(markers.time_s.size), np.zeros(markers.time_s.size)
    who = np.zeros(markers.time_s.size, dtype=np.intp)
    for index in range(len(markers.labels)):
        speed = speed_of(markers.time_s, markers.xyz_m[:, index])
        ahead = speed > fastest
        second = np.where(ahead, fastest, np.maximum(second, speed))
        who[ahead] = index
        fastest = np.maximum(fastest, speed)
    return fastest, who, second


def _known_up(markers: MarkerSet, options: ReadOptions) -> FloatArray | None:
    """The direction that is up (unit, (3,)): as given, or along a standing body; None when neither tells."""
    return _axis_vector(options.up_axis) if options.up_axis is not None else _body_axis(markers)


def _guessed_up(markers: MarkerSet, index: int) -> FloatArray:
    """The direction that is up (unit, (3,)) for a head at that marker, without a body to tell."""
    curved = _curved_towards(markers.xyz_m[:, index])
    return curved if curved is not None else _axis_vector(markers.usual_up)


def _glimpsed(markers: MarkerSet) -> FloatArray:
    """Places (f, m, 3) in some frames spread over the recording: enough for what changes slowly."""
    return markers.xyz_m[:: max(markers.time_s.size // _GLIMPSES, 1)]


def _body_axis(markers: MarkerSet) -> FloatArray | None:
    """The axis along which a standing body is long; None when no body is marked."""
    if len(markers.labels) < _BODY_MARKERS:
        return None
    places = _glimpsed(markers)
    seen = np.isfinite(places[:, :, 0]).any(axis=0)
    if seen.sum() < _BODY_MARKERS:
        return None
    middle = np.nanmedian(places[:, seen], axis=0)
    spread = np.ptp(middle, axis=0)
    order = np.argsort(spread)
    if spread[order[2]] < _BODY_HEIGHT_M or spread[order[2]] < _LONGER_THAN_WIDE * spread[order[1]]:
        return None
    # A floor lies near zero: heights are positive on an axis that points up.
    heights = middle[:, order[2]]
    up = np.zeros(3)
    up[order[2]] = 1.0 if abs(heights.min()) <= abs(heights.max()) else -1.0
    return up


def _curved_towards(places: FloatArray) -> FloatArray | None:
    """The axis towards which a marker's path along its main direction curves: up, for a swinging head.

    A head rises at both ends of its swing, as it hangs from the player, and more than it comes in. None
    when the path is too straight to tell.
    """
    known = places[np.isfinite(places[:, 0])]
    if known.shape[0] < _FEWEST_FRAMES:
        return None
    along = int(np.argmax(np.ptp(known, axis=0)))
    s = known[:, along] - np.median(known[:, along])
    if np.ptp(s) < 0.05:
        return None
    terms = np.column_stack([np.ones_like(s), s, s**2])
    others = [k for k in range(3) if k != along]
    curvature = np.linalg.lstsq(terms, known[:, others], rcond=None)[0][2]
    order = np.argsort(np.abs(curvature))
    most, least = curvature[order[1]], curvature[order[0]]
    if abs(most) < _CURVED_PER_M or abs(most) < _MORE_CURVED * abs(least):
        return None
    up = np.zeros(3)
    up[others[int(order[1])]] = np.sign(most)
    return up


def _floor(markers: MarkerSet, up: FloatArray) -> float | None:
    """Height of the floor, from the feet of a marked body; None without one."""
    if len(markers.labels) < _BODY_MARKERS:
        return None
    heights = _glimpsed(markers) @ up
    return float(np.nanpercentile(heights, 0.5)) if np.isfinite(heights).any() else None


def _frame(chosen: _Chosen, options: ReadOptions) -> FloatArray:
    """Rows are our axes in the file's frame (3, 3): x along the target line, z up."""
    along = chosen.swing.direction
    if options.target_axis is not None:
        along = _axis_vector(options.target_axis)
    along = along - (along @ chosen.up) * chosen.up
    along = along / np.linalg.norm(along)
    return np.stack([along, np.cross(chosen.up, along), chosen.up])


def _trace(
    markers: MarkerSet, index: int, axes: FloatArray, origin: FloatArray, targets: tuple[str, ...],
    options: ReadOptions, remarks: list[Remark],
) -> Trace | None:  # fmt: skip
    places = (markers.xyz_m[:, index] - origin) @ axes.T
    if options.left_handed:
        places[:, 1] *= -1.0
    what = targets[0].partition("_")[0]
    figures = {target: places[:, k] for k, target in enumerate(targets)}
    return complete_trace(markers.time_s, figures, targets, what, remarks, seen_throughout=what == "head")


def _ball_index(markers: MarkerSet, options: ReadOptions, source: Source) -> int | None:
    if options.ball_marker is not None:
        return _index_of(markers, options.ball_marker, source)
    return next((k for k, label in enumerate(markers.labels) if _bare(label) == "ball"), None)


def _index_of(markers: MarkerSet, name: str, source: Source) -> int:
    exact = [k for k, label in enumerate(markers.labels) if label == name]
    loose = [k for k, label in enumerate(markers.labels) if name.lower() in (label.lower(), _bare(label))]
    matches = exact or loose
    if len(matches) > 1:
        numbers = " and ".join(str(k + 1) for k in matches)
        raise source.error(f"markers {numbers} are both called '{name}'; rename one.")
    if not matches:
        raise source.error(f"there is no marker '{name}'; the markers are {_listed(markers)}.")
    return matches[0]


def _bare(label: str) -> str:
    """A label without the name of the subject before it (``player:ball``)."""
    return label.rpartition(":")[2].strip().lower()


def _listed(markers: MarkerSet) -> str:
    return ", ".join(markers.labels)


def _axis_vector(axis: str) -> FloatArray:
    vector = np.zeros(3)
    vector[_AXES.index(axis.lower().lstrip("+-"))] = -1.0 if axis.startswith("-") else 1.0
    return vector


def _chosen_remark(markers: MarkerSet, chosen: _Chosen, axes: FloatArray, *, named: bool) -> Remark:
    label = markers.labels[chosen.index]
    why = "as asked" if named else f"of {len(markers.labels)} markers it moves most like a head"
    strongest = int(np.argmax(np.abs(axes[0])))
    sign = "-" if axes[0][strongest] < 0 else ""
    off = float(np.degrees(np.arccos(min(abs(float(axes[0][strongest])), 1.0))))
    vertical = int(np.argmax(np.abs(chosen.up)))
    up_sign = "-" if chosen.up[vertical] < 0 else ""
    return Remark(
        "marker-chosen",
        f"The head is marker '{label}' ({why}); the target line is {off:.1f}° off the file's "
        f"{sign}{_AXES[strongest]} axis, up is its {up_sign}{_AXES[vertical]}, and the origin is the head's "
        "place at address.",
    )
