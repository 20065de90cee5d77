"""Scale sheet on paper at true scale: the board, a bar to measure, how to lay it, and marks for the head.

Lengths here are millimetres on paper, y down. See `docs/methods/scale-sheet.md`.
"""

from __future__ import annotations

from typing import Any

from pacewright.core.sheet import (
    BOARD_M,
    HEAD_MARK_SIZES_M,
    TAG_CELLS,
    Square,
    board_squares,
    tag_cells,
)
from pacewright.render.typeset import PAPER_NAMES, PAPER_SIZES_MM, Paper, typeset

EDGE_MM = 10.0
CHECK_BAR_MM = 200.0
_BOARD_TOP_MM = 11.0

Cell = tuple[float, float, float, float]
"""Left, top, width and height of something black."""


def sheet_pdf(paper: Paper = "a4") -> bytes:
    """The scale sheet as PDF: the board on the first page, how to use it and the head marks on the second."""
    short, long = PAPER_SIZES_MM[paper]
    board_left = 0.5 * (long - 1000.0 * BOARD_M[0]) - EDGE_MM
    data: dict[str, Any] = {
        "paper": PAPER_NAMES[paper],
        "edge": EDGE_MM,
        "page": {"width": long, "height": short},
        "board": {
            "left": board_left,
            "top": _BOARD_TOP_MM,
            "width": 1000.0 * BOARD_M[0],
            "height": 1000.0 * BOARD_M[1],
            "pieces": [_cells(square) for square in board_squares()],
        },
        "check_bar": CHECK_BAR_MM,
        "marks": [_mark(tag, size_m) for tag, size_m in HEAD_MARK_SIZES_M.items()],
    }
    return typeset("sheet.typ", data)


def _cells(square: Square) -> list[Cell]:
    """What is black of a square or a fiducial: runs of cells, from the board's top left corner."""
    left, top, side = (1000.0 * length for length in (square.left_m, square.top_m, square.side_m))
    if square.tag is None:
        return [(left, top, side, side)]
    cell = side / TAG_CELLS
    runs: list[Cell] = []
    for row, cells in enumerate(tag_cells(square.tag)):
        start = 0
        while start < TAG_CELLS:
            end = start
            while end < TAG_CELLS and cells[end]:
                end += 1
            if end > start:
                runs.append((left + start * cell, top + row * cell, (end - start) * cell, cell))
            start = end + 1
    return runs


def _mark(tag: int, size_m: float) -> dict[str, Any]:
    """A head mark with the white rim, one cell wide, that it needs."""
    rim_m = size_m / TAG_CELLS
    return {
        "size": 1000.0 * size_m,
        "outer": 1000.0 * (size_m + 2.0 * rim_m),
        "pieces": [_cells(Square(rim_m, rim_m, size_m, tag))],
    }
