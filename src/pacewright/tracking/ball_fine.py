"""The ball's places to a fraction of a pixel, and how long each picture was exposed.

The ball at rest, averaged around its centre so that a mark on it drops out, is a template (see
`template`) without turn or size; the exposure smears it along its way. The share of the time between
pictures for which the shutter is open is the one that makes the smeared template likest to the pictures.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray
from pacewright.tracking.keep import Kept, clipped
from pacewright.tracking.template import Image, Pose, Template

_RING = 1.3
_SHUTTER_SHARES = (0.0, 0.15, 0.3, 0.45, 0.6, 0.8, 1.0)
_TRIED = 8
_FREE_OF_HEAD_DIAMETERS = 3.0
_BEHIND_COSINE = 0.3
LEAST_LIKENESS = 0.75


class BallTemplate:
    """The ball of one putt as a template, for any smear along its way."""

    def __init__(self, kept: Kept, rest: FloatArray, radius: float, at_rest: range) -> None:
        self._kept, self.radius, self.rest = kept, radius, rest
        self._half = int(_RING * radius) + 3
        self._look = self._mean_look(at_rest)
        self._sharp = self._template(np.zeros(2), None)
        self.shutter_share = 0.0

    def find(self, k: int, place: FloatArray) -> tuple[FloatArray, float]:
        """The ball near a place (2,) in the k-th frame, not smeared: its centre and its likeness."""
        return self._find(self._sharp, k, place)

    def refined(
        self, ks: NDArray[np.int64], places: FloatArray, direction: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """The places (n, 2) again, finer, and how like the ball each is (n,)."""
        step = _steps(ks, places) @ direction
        self.shutter_share = self._shutter(ks, places, direction, step)
        fine, likeness = places.copy(), np.zeros(ks.size)
        made: dict[tuple[int, bool], Template] = {}
        for j, k in enumerate(ks):
            smear = self.shutter_share * max(float(step[j]), 0.0)
            near = float((places[j] - self.rest) @ direction) < 2 * self.radius * _FREE_OF_HEAD_DIAMETERS
            key = (round(smear), near)
            if key not in made:
                made[key] = self._template(round(smear) * direction, direction if near else None)
            fine[j], likeness[j] = self._find(made[key], int(k), places[j])
        return fine, likeness

    def _shutter(
        self, ks: NDArray[np.int64], places: FloatArray, direction: FloatArray, step: FloatArray
    ) -> float:
        """The share of the time between pictures for which the shutter is open."""
        tried = np.linspace(min(3, ks.size - 1), ks.size - 1, min(_TRIED, ks.size)).astype(int)
        mean_step = float(np.median(step[tried]))
        if mean_step < 2.0:
            return 0.0
        scores = []
        for share in _SHUTTER_SHARES:
            template = self._template(share * mean_step * direction, None)
            scores.append(float(np.median([self._find(template, int(ks[j]), places[j])[1] for j in tried])))
        return _SHUTTER_SHARES[int(np.argmax(scores))]

    def _find(self, template: Template, k: int, place: FloatArray) -> tuple[FloatArray, float]:
        reach = self._half + 12
        x, y = int(place[0]), int(place[1])
        box = clipped((x - reach, y - reach, x + reach + 1, y + reach + 1), self._kept.shape)
        pose = template.find(self._kept.cut(k, box), box[:2], Pose(float(place[0]), float(place[1])))
        if np.hypot(*(pose.place - place)) > 0.5 * self.radius:
            return place, 0.0
        return pose.place, pose.likeness

    def _mean_look(self, ks: range) -> Image:
        """Brightness around the centre at rest, the same in all directions: (2h+1, 2h+1)."""
        h = self._half
        x, y = np.round(self.rest).astype(int)
        cuts = [self._kept.cut(int(k), (x - h - 1, y - h - 1, x + h + 2, y + h + 2)) for k in ks]
        if cuts[0].shape != (2 * h + 3, 2 * h + 3):
            return _plain_disc(h, self.radius)
        picture = np.mean(cuts, axis=0)
        yy, xx = np.mgrid[-h - 1 : h + 2, -h - 1 : h + 2]
        far = np.hypot(xx + x - self.rest[0], yy + y - self.rest[1])
        edges = np.arange(0.0, h + 1.0, 1.0)
        ring = np.digitize(far, edges)
        profile = np.array([np.median(picture[ring == j]) for j in range(1, edges.size)])
        middle = np.array([far[ring == j].mean() for j in range(1, edges.size)])
        yy, xx = np.mgrid[-h : h + 1, -h : h + 1]
        return np.asarray(np.interp(np.hypot(xx, yy), middle, profile), dtype=np.float32)

    def _template(self, smear: FloatArray, ahead: FloatArray | None) -> Template:
        """The template smeared; with ``ahead``, without the part where the head may stand behind the ball."""
        h = self._half
        yy, xx = np.mgrid[-h : h + 1, -h : h + 1]
        far = np.hypot(xx, yy)
        mask = far < _RING * self.radius
        if ahead is not None:
            mask &= (xx * ahead[0] + yy * ahead[1] > -_BEHIND_COSINE * far) | (far < 0.7 * self.radius)
        centre = np.array([float(h), float(h)])
        return Template(self._look, mask, centre, moves_only=True).blurred(smear)


def _steps(ks: NDArray[np.int64], places: FloatArray) -> FloatArray:
    """Movement from frame to frame at each place (n, 2), by the line through five places around it."""
    steps = np.empty_like(places)
    for j in range(ks.size):
        near = slice(max(j - 2, 0), j + 3)
        steps[j] = np.polyfit(ks[near] - ks[j], places[near], 1)[0]
    return steps


def _plain_disc(half: int, radius: float) -> Image:
    yy, xx = np.mgrid[-half : half + 1, -half : half + 1]
    return np.asarray(60.0 + 150.0 * np.clip(radius + 0.5 - np.hypot(xx, yy), 0, 1), dtype=np.float32)
