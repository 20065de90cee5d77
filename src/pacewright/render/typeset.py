"""Typst templates and data become PDF. Data travel as JSON, so that no text can become markup."""

from __future__ import annotations

import datetime
import json
from importlib import resources
from pathlib import Path
from typing import Any, Literal

from pacewright.core.errors import SettingsError
from pacewright.render import look

Paper = Literal["a4", "letter"]
PAPER_NAMES: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
PAPER_SIZES_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


def check_paper(text: str) -> Paper:
    """``a4`` or ``letter``; raises SettingsError for anything else."""
    for paper in PAPER_NAMES:
        if text.lower() == paper:
            return paper
    raise SettingsError(f"'{text}' is not a paper size; use a4 or letter.")


def typeset(template: str, data: dict[str, Any], date: datetime.date | None = None) -> bytes:
    """The PDF of a template of `render/templates` filled with ``data``.

    The same data and date give the same bytes.
    """
    import typst

    folder = Path(str(resources.files("pacewright.render").joinpath("templates")))
    colours = {
        "ink": look.INK,
        "soft": look.SOFT_INK,
        "rule": look.RULE,
        "back": look.BACK,
        "through": look.THROUGH,
        "band": look.BAND,
        "sans": look.SANS,
        "serif": look.SERIF,
    }
    stamp = datetime.datetime.combine(date or datetime.date(1970, 1, 1), datetime.time(), tzinfo=datetime.UTC)
    pdf: bytes = typst.compile(
        folder / template,
        root=folder,
        font_paths=[look.font_folder()],
        format="pdf",
        sys_inputs={"data": json.dumps({**data, "look": colours}, allow_nan=False)},
        timestamp=stamp,
    )
    return pdf
