"""The look: a field book. Paper, ink, one warm accent, figures that line up.

Going back is blue and coming through is orange everywhere, each with a second cue (open or filled, below or
above zero, the word). Red and green carry nothing.
"""

from __future__ import annotations

from importlib import resources
from pathlib import Path
from typing import Any

PAPER = "#faf6ec"
INK = "#1f2430"
SOFT_INK = "#5b574e"
RULE = "#d9cfba"
BAND = "#efe4cb"
BACK = "#2a5d8f"
THROUGH = "#b4500f"
BALL = "#ffffff"

SANS = "IBM Plex Sans"
SERIF = "IBM Plex Serif"

WIDE_PX, NARROW_PX = 560, 330
"""Width of a chart for a page or a desk, and for a telephone."""


def font_folder() -> Path:
    """Folder of the bundled fonts (their digits all have one width)."""
    return Path(str(resources.files("pacewright.render").joinpath("fonts")))


def chart_style() -> dict[str, Any]:
    """Configuration that every chart carries, as Vega-Lite's ``config``."""
    text = {"font": SANS, "fontSize": 12, "color": INK}
    return {
        "background": None,
        "font": SANS,
        "padding": {"left": 4, "right": 8, "top": 4, "bottom": 4},
        "view": {"stroke": None},
        "axis": {
            "domainColor": INK,
            "domainWidth": 1,
            "gridColor": RULE,
            "gridWidth": 0.75,
            "tickColor": INK,
            "tickSize": 4,
            "labelFont": SANS,
            "labelFontSize": 12,
            "labelColor": INK,
            "labelPadding": 4,
            "titleFont": SANS,
            "titleFontSize": 12,
            "titleFontWeight": "normal",
            "titleColor": SOFT_INK,
            "titlePadding": 8,
        },
        "title": {
            "font": SANS,
            "fontSize": 12,
            "fontWeight": 700,
            "color": INK,
            "anchor": "start",
            "offset": 8,
        },
        "text": text,
    }
