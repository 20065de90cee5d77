"""The scale sheet, measured in the PDF itself and read from a page of it."""

from __future__ import annotations

import itertools

import cv2
import numpy as np
import pypdfium2
import pytest

from pacewright.core.sheet import (
    BOARD_M,
    COLUMNS,
    HEAD_MARK_SIZES_M,
    ROWS,
    SQUARE_M,
    TAG_CELLS,
    TAG_M,
    board_squares,
    inner_corners_m,
    tag_cells,
)
from pacewright.render import look
from pacewright.render.sheet import CHECK_BAR_MM, EDGE_MM, sheet_pdf
from pacewright.render.typeset import PAPER_SIZES_MM, Paper
from tests.render.test_strip import MM_PER_POINT, Box, painted_boxes

BLACK = "#000000"


@pytest.fixture(scope="module", params=["a4", "letter"])
def sheet(request: pytest.FixtureRequest) -> tuple[Paper, pypdfium2.PdfDocument]:
    return request.param, pypdfium2.PdfDocument(sheet_pdf(request.param))


def _board(page: pypdfium2.PdfPage) -> list[Box]:
    """Squares and fiducials: black, and larger than anything else on the page."""
    return [box for box in painted_boxes(page) if box[0] == BLACK and min(box[3:]) > 15.0]


def test_squares_and_fiducials_stand_true_to_a_tenth_of_a_millimetre(
    sheet: tuple[Paper, pypdfium2.PdfDocument],
) -> None:
    boxes = _board(sheet[1][0])
    left, top = min(box[1] for box in boxes), min(box[2] for box in boxes)
    measured = sorted((x - left, y - top, w, h) for _, x, y, w, h in boxes)
    said = sorted((1e3 * s.left_m, 1e3 * s.top_m, 1e3 * s.side_m, 1e3 * s.side_m) for s in board_squares())
    assert len(measured) == len(said) == COLUMNS * ROWS
    for one, other in zip(measured, said, strict=True):
        assert one == pytest.approx(other, abs=0.1)


def test_board_keeps_clear_of_the_edges_and_of_the_bar(
    sheet: tuple[Paper, pypdfium2.PdfDocument],
) -> None:
    paper, document = sheet
    short, long = PAPER_SIZES_MM[paper]
    page = document[0]
    assert (page.get_width() * MM_PER_POINT, page.get_height() * MM_PER_POINT) == pytest.approx(
        (long, short), abs=0.1
    )
    boxes = _board(page)
    right, bottom = max(x + w for _, x, _, w, _ in boxes), max(y + h for _, _, y, _, h in boxes)
    assert min(box[1] for box in boxes) >= EDGE_MM
    assert right <= long - EDGE_MM
    bars = [box for box in painted_boxes(page) if box[0] == look.INK and abs(box[4] - 1.2) < 0.01]
    assert [bar[3] for bar in bars] == [pytest.approx(CHECK_BAR_MM, abs=0.1)]
    assert bars[0][2] > bottom + 3.0  # white all around, or the outer squares are not seen
    assert "Print at 100 %" in page.get_textpage().get_text_range()


def test_head_marks_are_as_large_as_their_numbers_say(
    sheet: tuple[Paper, pypdfium2.PdfDocument],
) -> None:
    squares = [
        w
        for fill, _, _, w, h in painted_boxes(sheet[1][1])
        if fill == BLACK and w > 15.0 and abs(w - h) < 0.01
    ]  # each mark, and the line to cut along, one cell of white outside it
    marks = sorted(1e3 * size for size in HEAD_MARK_SIZES_M.values())
    cuts = [size * (TAG_CELLS + 2) / TAG_CELLS for size in marks]
    assert sorted(squares) == pytest.approx(sorted([*marks, *cuts]), abs=0.1)


def test_the_page_is_read_as_the_board_of_the_open_standard(
    sheet: tuple[Paper, pypdfium2.PdfDocument],
) -> None:
    picture = np.array(sheet[1][0].render(scale=2.0).to_pil().convert("L"))
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    board = cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE_M, TAG_M, dictionary)
    corners, numbers, _, tags = cv2.aruco.CharucoDetector(board).detectBoard(picture)
    assert len(tags) == COLUMNS * ROWS // 2
    assert len(numbers) == (COLUMNS - 1) * (ROWS - 1)
    dots_a_metre = 2.0 * 72.0 / 0.0254
    across = corners.reshape(-1, 2)
    assert np.ptp(across[:, 0]) / dots_a_metre == pytest.approx(np.ptp(inner_corners_m()[:, 0]), rel=1e-3)


def test_the_layout_is_that_of_the_standard() -> None:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    board = cv2.aruco.CharucoBoard((COLUMNS, ROWS), SQUARE_M, TAG_M, dictionary)
    ours = {s.tag: (s.left_m, s.top_m) for s in board_squares() if s.tag is not None}
    for number, corners in zip(board.getIds().ravel(), board.getObjPoints(), strict=True):
        assert corners[0][:2] == pytest.approx(ours[number], abs=1e-6)
    theirs = np.asarray(board.getChessboardCorners())[:, :2]
    assert inner_corners_m()[:, 0] == pytest.approx(theirs[:, 0] - BOARD_M[0] / 2, abs=1e-6)
    assert inner_corners_m()[:, 1] == pytest.approx(BOARD_M[1] / 2 - theirs[:, 1], abs=1e-6)
    for tag in itertools.chain(ours, HEAD_MARK_SIZES_M):
        assert (dictionary.generateImageMarker(tag, 6, 1) == 0).tolist() == tag_cells(tag).tolist()
