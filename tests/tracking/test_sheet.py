"""The scale sheet found in pictures whose camera is known, by OpenCV's own projection."""

from __future__ import annotations

import math

import cv2
import numpy as np
import pypdfium2
import pytest

from pacewright.render.sheet import sheet_pdf
from pacewright.tracking.sheet import DISTORTION_SD, PRINT_SD, find_sheet
from tests.tracking.sheet_pictures import Camera, take


def true_scale(camera: Camera, point_m: tuple[float, float], height_m: float) -> float:
    """Metres a pixel at a point of a plane above the sheet, from the projection of a small square."""
    around = np.array(point_m) + 5e-4 * np.array([[1, 0], [-1, 0], [0, 1], [0, -1.0]])
    right, left, up, down = camera.project(around, height_m)
    a, b = right - left, up - down
    return 1e-3 / math.sqrt(abs(a[0] * b[1] - a[1] * b[0]))


@pytest.mark.parametrize("turn_deg", [0.0, 37.0, 180.0, -95.0])
@pytest.mark.parametrize("tilt_deg", [0.0, 25.0, 50.0])
def test_corners_and_scale_of_a_tilted_and_turned_sheet(tilt_deg: float, turn_deg: float) -> None:
    camera = Camera(tilt_deg=tilt_deg, turn_deg=turn_deg, heading_deg=15.0, board_share=0.4)
    view = find_sheet(take(camera))
    assert view is not None
    assert view.tags >= 18
    miss = view.corners_px - camera.project(view.corners_m)
    assert float(np.sqrt(np.mean(miss**2))) < 0.08
    assert view.rms_px < 0.08
    assert math.degrees(view.tilt_rad) == pytest.approx(tilt_deg, abs=2.0)
    for point, height in (((0.0, 0.0), 0.0), ((0.2, 0.0), 0.0), ((0.2, 0.1), 0.0213)):
        where = camera.project(np.array([point]), height)[0]
        scale, sd = view.scale_at(where, height)
        assert abs(scale / true_scale(camera, point, height) - 1.0) < 3.0 * sd
        assert PRINT_SD <= sd < 0.02
        assert view.metres(where[None], height)[0] == pytest.approx(point, abs=3e-3)


@pytest.mark.parametrize("k1", [-0.15, -0.05, 0.05, 0.1])
def test_distortion_is_measured_where_the_sheet_covers_the_picture(k1: float) -> None:
    camera = Camera(k1=k1, board_share=0.8, tilt_deg=15.0, turn_deg=5.0)
    view = find_sheet(take(camera))
    assert view is not None
    assert view.lens_is_measured
    shift, sd = view.corner_shift
    true_shift = k1 * (0.5 * math.hypot(*camera.size_px) / camera.matrix[0, 0]) ** 2
    assert shift == pytest.approx(true_shift, abs=max(3.0 * sd, 0.002))
    points = np.array([[100.0, 80.0], [640.0, 360.0], [1150.0, 600.0]])
    lens = np.array([k1, 0, 0, 0.0])
    straight = cv2.undistortPoints(points.reshape(-1, 1, 2), camera.matrix, lens, P=camera.matrix)
    assert view.undistort(points) == pytest.approx(straight.reshape(-1, 2), abs=2.0)


def test_a_small_sheet_says_that_it_cannot_tell_the_distortion() -> None:
    view = find_sheet(take(Camera(size_px=(854, 480), board_share=0.2, turn_deg=5.0)))
    assert view is not None
    assert not view.lens_is_measured
    assert view.corner_shift[1] > 0.5 * DISTORTION_SD
    near, far = (view.scale_at(np.array(place))[1] for place in ((427.0, 240.0), (800.0, 440.0)))
    assert far > 3.0 * near  # what is not known of the lens grows towards the edge


def test_height_above_a_sheet_seen_square_on_costs_what_the_lens_leaves_open() -> None:
    # Half of the way up costs a scale of 2: the ball's middle, 21 mm above, some 5 % here.
    camera = Camera(board_share=0.6)
    view = find_sheet(take(camera))
    assert view is not None
    middle = camera.project(np.zeros((1, 2)))[0]
    flat, raised = view.scale_at(middle)[0], view.scale_at(middle, 0.0213)[0]
    distance = camera.pose[1][2]
    assert raised / flat == pytest.approx(1 - 0.0213 / distance, abs=3e-3)
    assert view.focal_px[1] / view.focal_px[0] > 0.1  # a plane square on tells nothing of it


@pytest.mark.parametrize(
    "taken",
    [
        {"blur_px": 2.5},
        {"gradient": 1.2},
        {"noise": 8.0},
        {"hidden_share": 0.5},
    ],
    ids=str,
)
def test_blur_light_noise_and_a_hand_on_it(taken: dict[str, float]) -> None:
    camera = Camera(board_share=0.5, tilt_deg=20.0, turn_deg=5.0)
    view = find_sheet(take(camera, **taken))
    assert view is not None
    where = camera.project(np.zeros((1, 2)))[0]
    scale, sd = view.scale_at(where)
    assert abs(scale / true_scale(camera, (0.0, 0.0), 0.0) - 1.0) < 3.0 * sd


def test_stated_uncertainty_covers_the_error() -> None:
    # 3 sd in 16 views, on a plane beside and above the sheet; without the printer, which is perfect here.
    rng = np.random.default_rng(5)
    worst, ratios = 0.0, []
    for seed in range(16):
        camera = Camera(
            tilt_deg=rng.uniform(0, 35),
            turn_deg=rng.uniform(-180, 180),
            board_share=rng.uniform(0.25, 0.45),
            focal_share=rng.uniform(0.7, 1.0),
            k1=rng.normal(0, 0.05),
        )
        view = find_sheet(take(camera, seed=seed))
        assert view is not None
        where = camera.project(np.array([[0.15, -0.1]]), 0.0213)[0]
        scale, sd = view.scale_at(where, 0.0213)
        own = math.sqrt(max(sd**2 - PRINT_SD**2, 0.0))
        ratios.append((scale / true_scale(camera, (0.15, -0.1), 0.0213) - 1.0) / own)
        worst = max(worst, abs(ratios[-1]))
    assert worst < 3.5
    assert 0.25 < float(np.std(ratios)) < 1.5


def test_too_little_of_it_or_none_at_all() -> None:
    assert find_sheet(take(Camera(), hidden_share=0.75)) is None
    assert find_sheet(np.full((480, 640), 128, dtype=np.uint8)) is None
    noise = np.random.default_rng(1).integers(0, 255, (480, 640)).astype(np.uint8)
    assert find_sheet(noise) is None
    mirrored = np.ascontiguousarray(take(Camera())[:, ::-1])
    assert find_sheet(mirrored) is None


def test_the_printed_page_is_found() -> None:
    page = pypdfium2.PdfDocument(sheet_pdf("letter"))[0]
    picture = np.array(page.render(scale=1.2).to_pil().convert("L"))
    view = find_sheet(picture)
    assert view is not None
    scale, sd = view.scale_at(0.5 * np.array(picture.shape[::-1]))
    assert scale == pytest.approx(0.0254 / 72 / 1.2, rel=3 * sd)
