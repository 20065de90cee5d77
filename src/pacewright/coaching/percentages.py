"""Shares and numbers of putts as words: no more digits than the putts carry."""

from __future__ import annotations

import math


def percent(share: float) -> str:
    """A share as percent: whole from ten up, one decimal below, – when it is not known."""
    if not math.isfinite(share):
        return "–"
    figure = 100.0 * share
    text = f"{figure:.0f}" if abs(figure) >= 9.95 else f"{figure:.1f}"
    text = "0" if float(text) == 0.0 else text
    return text.replace("-", "−") + " %"


def whole_percent(share: float) -> str:
    """A share as whole percent."""
    return f"{round(100.0 * share)} %".replace("-", "−")


def count(number: int, noun: str) -> str:
    """``1 putt``, ``3 putts``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def about(number: int) -> str:
    """A number of putts that is itself an estimate: two digits are enough."""
    if number < 20:
        return f"{number}"
    step = 10 ** (len(str(number)) - 2)
    return f"{round(number / step) * step:,}"
