"""The head's mark in pictures of known place, angle and blur."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pytest

from pacewright.core.sheet import HEAD_MARK_SIZES_M
from pacewright.tracking.fiducial import find_head_mark
from tests.tracking.sheet_pictures import mark_picture

ANGLES = (0.0, 17.0, 60.0, -80.0, 135.0, 179.0)


@pytest.mark.parametrize(("tag", "size_px"), [(40, 26.0), (41, 40.0), (42, 60.0)])
@pytest.mark.parametrize("blur_px", [(0.0, 0.0), (4.0, 1.0)], ids=str)
def test_place_and_angle(tag: int, size_px: float, blur_px: tuple[float, float]) -> None:
    misses, turns = [], []
    for k, angle in enumerate(ANGLES):
        centre = (200.3 + 0.17 * k, 150.6 - 0.23 * k)
        mark = find_head_mark(mark_picture(tag, size_px, angle, centre, blur_px))
        assert mark is not None
        assert (mark.tag, mark.size_m) == (tag, HEAD_MARK_SIZES_M[tag])
        assert mark.metres_a_pixel == pytest.approx(mark.size_m / size_px, rel=0.06)
        misses.append(mark.centre_px - centre)
        turns.append((math.degrees(mark.angle_rad) - angle + 180) % 360 - 180)
    assert float(np.sqrt(np.mean(np.square(misses)))) < 0.15
    assert float(np.max(np.abs(turns))) < 1.5


def test_a_window_gives_pixels_of_the_whole_picture() -> None:
    picture = mark_picture(41, 40.0, 10.0, (222.0, 140.0), (0.0, 0.0))
    mark = find_head_mark(picture, (150, 80, 300, 210))
    assert mark is not None
    assert mark.centre_px == pytest.approx((222.0, 140.0), abs=0.15)
    assert find_head_mark(picture, (0, 0, 120, 100)) is None
    assert find_head_mark(picture, (390, 290, 410, 310)) is None


def test_nothing_is_read_into_grass_or_noise() -> None:
    rng = np.random.default_rng(0)
    for k in range(24):
        ground = cv2.GaussianBlur(rng.normal(0, 60, (360, 640)), (0, 0), 0.8 + 0.2 * k)
        ground = 110 + 40 * ground / ground.std()
        assert find_head_mark(np.clip(ground, 0, 255).astype(np.uint8)) is None
