"""The marker strip, measured in the PDF itself: true scale to 0.1 mm."""

from __future__ import annotations

import ctypes
import itertools
import math

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.errors import SettingsError
from pacewright.core.station import PuttStation, Station
from pacewright.render import look
from pacewright.render.strip import EDGE_MM, MARKER_WIDTH_MM, OVERLAP_MM, plan_strip, strip_pdf
from pacewright.render.typeset import PAPER_SIZES_MM, check_paper
from tests.render.sample import sample_station

MM_PER_POINT = 25.4 / 72.0
BALL_DIAMETER_MM = 42.67  # Rules of Golf: not less than 1.680 in (42.67 mm)
Box = tuple[str, float, float, float, float]


def painted_boxes(page: pypdfium2.PdfPage) -> list[Box]:
    """(fill colour, left, top, width, height) in mm of every path on the page, from its own points."""
    height_mm = page.get_height() * MM_PER_POINT
    boxes: list[Box] = []
    for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=5):
        x, y = path_points_mm(item)
        red, green, blue, alpha = (ctypes.c_uint() for _ in range(4))
        pdfium.FPDFPageObj_GetFillColor(item, red, green, blue, alpha)
        colour = f"#{red.value:02x}{green.value:02x}{blue.value:02x}"
        boxes.append((colour, min(x), height_mm - max(y), max(x) - min(x), max(y) - min(y)))
    return boxes


def path_points_mm(item: pypdfium2.PdfObject) -> tuple[list[float], list[float]]:
    """Points of a path on the page, without the width of its line."""
    matrix = item.get_matrix()
    x, y = ctypes.c_float(), ctypes.c_float()
    points = []
    for k in range(pdfium.FPDFPath_CountSegments(item)):
        pdfium.FPDFPathSegment_GetPoint(pdfium.FPDFPath_GetPathSegment(item, k), x, y)
        points.append(matrix.on_point(x.value, y.value))
    return [px * MM_PER_POINT for px, _ in points], [py * MM_PER_POINT for _, py in points]


def markers(boxes: list[Box], colour: str) -> list[float]:
    """Middle of every upright bar of that colour, in mm from the left edge of the sheet."""
    return [
        left + width / 2
        for fill, left, _, width, height in boxes
        if fill == colour and abs(width - MARKER_WIDTH_MM) < 0.01 and height > 10
    ]


def back_of_ball(boxes: list[Box]) -> float | None:
    """Left edge of the ball's outline, where the ball is on the sheet."""
    for _, left, _, width, height in boxes:
        if width == pytest.approx(BALL_DIAMETER_MM, abs=0.1) and height == pytest.approx(width, abs=0.1):
            return left
    return None


@pytest.fixture(scope="module", params=["a4", "letter"])
def strip(request: pytest.FixtureRequest) -> tuple[Station, str, pypdfium2.PdfDocument]:
    station = sample_station((3.0, 10.0, 30.0))
    return station, request.param, pypdfium2.PdfDocument(strip_pdf(station, request.param))


def test_every_tile_carries_a_bar_of_100_mm(strip: tuple[Station, str, pypdfium2.PdfDocument]) -> None:
    station, paper, document = strip
    tiles = len(plan_strip(station.stations, check_paper(paper)).tiles)
    assert len(document) == tiles + 1
    for page in list(document)[:tiles]:
        bars = [w for fill, _, _, w, h in painted_boxes(page) if fill == look.INK and abs(h - 1.2) < 0.01]
        assert bars == [pytest.approx(100.0, abs=0.1)]
        assert "Print at 100 %" in page.get_textpage().get_text_range()


def test_sheets_have_the_size_of_the_paper(strip: tuple[Station, str, pypdfium2.PdfDocument]) -> None:
    _, paper, document = strip
    size = sorted(edge * MM_PER_POINT for edge in document[0].get_size())
    assert size == pytest.approx(sorted(PAPER_SIZES_MM[check_paper(paper)]), abs=0.1)


def test_markers_stand_at_their_true_distance(strip: tuple[Station, str, pypdfium2.PdfDocument]) -> None:
    # The joined strip: a point of tile k lies its cut edge's offset further along than on the sheet.
    station, paper, document = strip
    plan = plan_strip(station.stations, check_paper(paper))
    step = plan.page_size_mm[0] - 2 * EDGE_MM - OVERLAP_MM
    backs, throughs, zero = set(), set(), None
    for k, page in enumerate(list(document)[: len(plan.tiles)]):
        window = (EDGE_MM, plan.page_size_mm[0] - EDGE_MM)  # what lies outside is clipped away
        boxes = [box for box in painted_boxes(page) if window[0] <= box[1] <= window[1]]
        offset = k * step
        backs |= {round(x + offset, 2) for x in markers(boxes, look.BACK)}
        throughs |= {round(x + offset, 2) for x in markers(boxes, look.THROUGH)}
        if (edge := back_of_ball(boxes)) is not None:
            zero = edge + offset
    assert zero is not None
    expected_backs = [zero - 1000 * putt.back_marker_m for putt in station.stations]
    expected_throughs = [zero + 1000 * putt.through_marker_m for putt in station.stations]
    for found, expected in ((backs, expected_backs), (throughs, expected_throughs)):
        assert all(min(abs(x - at) for x in found) < 0.1 for at in expected)
        assert all(min(abs(x - at) for at in expected) < 0.1 for x in found)


def test_labels_name_each_marker_in_both_systems(strip: tuple[Station, str, pypdfium2.PdfDocument]) -> None:
    station, _, document = strip
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    for putt in station.stations:
        assert f"{100 * putt.back_marker_m:.1f} cm ({putt.back_marker_m / 0.0254:.1f} in)" in text
        assert f"back {putt.putt_length_m:.2f} m" in text
        assert f"through {putt.putt_length_m:.2f} m" in text
    for word in ("putt of 3 ft", "putt of 10 ft", "putt of 30 ft", "90 beats a minute"):
        assert word in text


def _putt(back_m: float, through_m: float) -> PuttStation:
    return PuttStation(
        1.0, 1.0, 1.0, back_m, through_m, (0.9 * back_m, 1.1 * back_m), 0.3, 0.67, 0.67, 0.33, 2.0, 0.0
    )  # fmt: skip


def test_orientation_with_fewer_sheets_and_upright_when_equal() -> None:
    assert plan_strip([_putt(0.05, 0.05)]).orientation == "portrait"
    long = plan_strip([_putt(0.45, 0.45)])
    assert (long.orientation, len(long.tiles)) == ("landscape", 4)


@settings(max_examples=60)
@given(
    putts=st.lists(st.tuples(st.floats(0.01, 1.2), st.floats(0.01, 1.2)), min_size=1, max_size=14),
    paper=st.sampled_from(["a4", "letter"]),
)
def test_tiles_join_and_cover_everything(putts: list[tuple[float, float]], paper: str) -> None:
    made = [_putt(*values) for values in putts]
    plan = plan_strip(made, check_paper(paper))
    assert [putt for group in plan.groups for putt in group] == made
    for one, other in itertools.pairwise(plan.tiles):
        assert one.right_mm - other.left_mm == pytest.approx(OVERLAP_MM)
    for tile in plan.tiles:
        assert tile.right_mm - tile.left_mm == pytest.approx(plan.page_size_mm[0] - 2 * EDGE_MM)
    assert plan.tiles[0].left_mm <= -1000 * max(putt.back_marker_band_m[1] for putt in made)
    assert plan.tiles[-1].right_mm >= 1000 * max(putt.through_marker_m for putt in made)
    assert plan.tiles[-1].right_mm >= BALL_DIAMETER_MM


def test_a_strip_without_sense_is_refused() -> None:
    with pytest.raises(SettingsError, match="at least one putt"):
        plan_strip([])
    with pytest.raises(SettingsError, match="m long"):
        plan_strip([_putt(3.0, 3.0)])
    with pytest.raises(SettingsError):
        plan_strip([_putt(math.nan, 0.2)])
    with pytest.raises(SettingsError, match="a4 or letter"):
        check_paper("a3")


def test_a_warning_of_the_station_is_printed() -> None:
    station = sample_station((60.0,))
    assert station.stations[0].warnings
    document = pypdfium2.PdfDocument(strip_pdf(station))
    text = document[len(document) - 1].get_textpage().get_text_range()
    assert "Needs a backswing over" in " ".join(text.split())
