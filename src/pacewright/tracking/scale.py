"""Metres from pixels: by the ball, by two points a known distance apart, or by the printed sheet."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pacewright.core.clip import View
from pacewright.core.errors import ReadError
from pacewright.core.recording import FloatArray
from pacewright.tracking.ball import BALL_DIAMETER_M, EDGE_SD_PX
from pacewright.tracking.clip import Plane
from pacewright.tracking.options import Span

BALL_SD = 0.001
"""How far a ball's diameter lies above the least that the rules allow: common practice, no source."""
FOCAL_SHARE, FOCAL_SHARE_SD = 0.85, 0.15
"""Focal length of a telephone's video over the longer side of the picture: common practice, no source."""
_MARK_SD_PX = 1.0
_TOE_NEARER_M, _TOE_NEARER_SD_M = 0.015, 0.02
"""From in front the toe is seen, and the top as far as the heel: chosen with rendered clips in view."""
_TOP_ABOVE_BALL_SD_M = 0.006
BALL_CENTRE_M = BALL_DIAMETER_M / 2


@dataclass(frozen=True, slots=True)
class Scale:
    """``flat`` takes points (n, 2) of the first picture to pixels that are as many a metre everywhere:
    ``px_per_m`` for the ball, ``head_px_per_m`` for what is seen of the head. ``relative_sd`` is the
    standard uncertainty of both together. ``camera_m`` is about how far above the ball a camera that
    looks down on it is; None for one in front.
    """

    flat: Callable[[FloatArray], FloatArray]
    px_per_m: float
    head_px_per_m: float
    relative_sd: float
    camera_m: float | None
    said: str


def scale_of(
    said: str | Span | None, first: Plane, rest_px: FloatArray | None, radius_px: float, view: View
) -> Scale:
    """The scale of a clip from a picture of it and the ball at rest. Raises ReadError without one."""
    if isinstance(said, Span):
        return _by_span(said, first.shape, view)
    if said == "sheet":
        sheet = _by_sheet(first, rest_px, view)
        if sheet is None:
            raise ReadError(
                "No sheet of Pacewright's was found in the picture. Lay it flat beside the ball, whole and "
                "well lit, or take the ball as the scale (--scale ball)."
            )
        return sheet
    if rest_px is None or not radius_px > 0.0:
        raise ReadError(
            "There is no ball to take the scale from. Give two points a known distance apart: "
            "--scale 0.5m@x1,y1,x2,y2."
        )
    px_per_m = 2 * radius_px / BALL_DIAMETER_M
    return _plain(px_per_m, math.hypot(EDGE_SD_PX / radius_px, BALL_SD), first.shape, view, "ball")


def _by_span(span: Span, shape: tuple[int, ...], view: View) -> Scale:
    apart_px = math.dist(span.first_px, span.second_px)
    return _plain(apart_px / span.length_m, _MARK_SD_PX * math.sqrt(2) / apart_px, shape, view, "span")


def _plain(px_per_m: float, relative_sd: float, shape: tuple[int, ...], view: View, said: str) -> Scale:
    """One scale for the whole picture; what is seen of the head is nearer to the camera."""
    distance_m = FOCAL_SHARE * max(shape) / px_per_m
    if view == "front":
        nearer = _TOE_NEARER_M / distance_m
        unsure = math.hypot(_TOE_NEARER_SD_M / distance_m, nearer * FOCAL_SHARE_SD / FOCAL_SHARE)
    else:
        nearer, unsure = 0.0, _TOP_ABOVE_BALL_SD_M / distance_m
    above_m = distance_m if view == "above" else None
    return Scale(
        np.asarray, px_per_m, px_per_m * (1.0 + nearer), math.hypot(relative_sd, unsure), above_m, said
    )


def _by_sheet(first: Plane, rest_px: FloatArray | None, view: View) -> Scale | None:
    """The sheet lies on the ground: it serves the view from above, at the height of the ball's centre."""
    from pacewright.tracking.sheet import find_sheet

    sheet = find_sheet(first) if view == "above" else None
    if sheet is None:
        return None
    centre = np.array([[first.shape[1] / 2, first.shape[0] / 2]]) if rest_px is None else rest_px[None, :]
    metres_a_pixel, relative_sd = sheet.scale_at(centre[0], BALL_CENTRE_M)
    px_per_m = 1.0 / metres_a_pixel
    origin = sheet.metres(centre, BALL_CENTRE_M)[0]
    ends = sheet.metres(centre + np.array([[1.0, 0.0], [0.0, 1.0]]), BALL_CENTRE_M) - origin
    # The sheet may lie in any direction: turn its metres so that they run as the picture does at the ball.
    u, _, vt = np.linalg.svd(ends.T)
    turn = vt.T @ u.T

    def flat(points_px: FloatArray) -> FloatArray:
        metres = sheet.metres(points_px, BALL_CENTRE_M) - origin
        return np.asarray(centre + px_per_m * metres @ turn.T)

    distance_m = float(np.linalg.norm(sheet.fit[3:6]))
    return Scale(flat, px_per_m, px_per_m, relative_sd, distance_m, "sheet")
