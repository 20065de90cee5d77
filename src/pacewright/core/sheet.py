"""The scale sheet: a chessboard with a fiducial in each white square, printed by one room, found by another.

The pattern is the ChArUco board of OpenCV with its dictionary DICT_4X4_50. One layout fits A4 and US letter,
so the lengths of a sheet that is found are known. Frame of the sheet: metres, origin at the middle of the
board, x along the printed arrow (towards the hole), y to the top of the page, z out of the paper.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pacewright.core.recording import FloatArray

COLUMNS, ROWS = 8, 5
SQUARE_M = 0.032
TAG_M = 0.024
TAG_CELLS = 6
"""Cells along the side of a fiducial: four of code between two of a black rim."""
BOARD_M = (COLUMNS * SQUARE_M, ROWS * SQUARE_M)

HEAD_MARK_SIZES_M: dict[int, float] = {40: 0.020, 41: 0.030, 42: 0.040}
"""Fiducials to cut out and stick on the head: number in the dictionary, and side of the black square."""

_CODES: dict[int, int] = dict(
    zip(
        (*range(20), *HEAD_MARK_SIZES_M),
        (
            0xB532, 0x0F9A, 0x332D, 0x9946, 0x549E, 0x79CD, 0x9E2E, 0xC4F2, 0xFEDA, 0xCF56, 0xF991, 0x11A7,
            0x0EB7, 0x2A0F, 0x24B1, 0x263E, 0x4665, 0x6600, 0x6C5E, 0x76AF, 0x1718, 0x2A28, 0x328C,
        ),
        strict=True,
    )
)  # fmt: skip
"""Codes of the dictionary, row by row from the top left, a one for white; held against OpenCV's by a test."""


@dataclass(frozen=True, slots=True)
class Square:
    """An upright black square or fiducial: left, top and side in metres from the board's top left corner, x
    to the right and y down; ``tag`` is the fiducial's number, None for a plain square.
    """

    left_m: float
    top_m: float
    side_m: float
    tag: int | None


def board_squares() -> Iterator[Square]:
    """What is black on the board, row by row: plain squares, and a fiducial in the middle of the others."""
    tag, rim = 0, 0.5 * (SQUARE_M - TAG_M)
    for row in range(ROWS):
        for column in range(COLUMNS):
            left, top = column * SQUARE_M, row * SQUARE_M
            if (row + column) % 2 == 0:
                yield Square(left, top, SQUARE_M, None)
            else:
                yield Square(left + rim, top + rim, TAG_M, tag)
                tag += 1


def tag_cells(tag: int) -> NDArray[np.bool_]:
    """Cells (6, 6) of a fiducial, True where black, the rim among them."""
    code = np.array([_CODES[tag] >> shift & 1 for shift in range(15, -1, -1)], dtype=bool).reshape(4, 4)
    return np.pad(~code, 1, constant_values=True)


def inner_corners_m() -> FloatArray:
    """Where squares meet inside the board, ((COLUMNS-1)·(ROWS-1), 2) in the sheet's frame, row by row."""
    column, row = np.meshgrid(np.arange(1, COLUMNS), np.arange(1, ROWS))
    x = column.ravel() * SQUARE_M - 0.5 * BOARD_M[0]
    y = 0.5 * BOARD_M[1] - row.ravel() * SQUARE_M
    return np.column_stack([x, y])
