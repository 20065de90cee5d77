"""Charts as SVG."""

from __future__ import annotations

import json
import re
from functools import cache, lru_cache
from html import escape
from typing import Any

from pacewright.render.look import font_folder

_ROOT = re.compile(r"<svg\b[^>]*>")
_SIZE = re.compile(r'(width|height)="([\d.]+)"')
_IDS = re.compile(r'(\bid="|url\(#)')


@cache
def _converter() -> Any:
    import vl_convert

    vl_convert.register_font_directory(str(font_folder()))
    return vl_convert


def chart_svg(spec: dict[str, Any]) -> str:
    """A Vega-Lite specification as an SVG document; text stays text."""
    return _svg_of(json.dumps(spec))


@lru_cache(maxsize=32)  # a page and a PDF of one report share their charts
def _svg_of(spec: str) -> str:
    svg: str = _converter().vegalite_to_svg(spec)
    return svg


def inline_svg(svg: str, name: str, alternative: str) -> str:
    """An SVG document made fit to stand inside a page.

    ``name`` keeps its ids apart from those of other charts; the picture is announced as one image with
    ``alternative`` as its text; it scales with its box.
    """
    width, height = (float(_size(svg, side)) for side in ("width", "height"))
    svg = _IDS.sub(rf"\1{name}-", svg)
    svg = _strip_inner_roles(svg)
    root = (
        f'<svg class="chart-{name}" role="img" '
        f'aria-label="{escape(alternative, quote=True)}" viewBox="0 0 {width:g} {height:g}">'
    )
    placed: str = _ROOT.sub(lambda _: root, svg, count=1)
    return placed


def _size(svg: str, side: str) -> str:
    root = _ROOT.search(svg)
    assert root is not None, "not an SVG document"
    sizes: dict[str, str] = dict(_SIZE.findall(root[0]))
    return sizes[side]


def _strip_inner_roles(svg: str) -> str:
    """Drop the converter's own roles and labels inside: the image speaks through its alternative alone."""
    return re.sub(r'\s(?:role|aria-[a-z]+)="[^"]*"', "", svg)
