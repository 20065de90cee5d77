"""Use case: the printed sheet that gives a clip its scale."""

from __future__ import annotations

from pathlib import Path

from pacewright.app.files import write_whole
from pacewright.core.errors import SettingsError
from pacewright.render.typeset import Paper, check_paper

__all__ = ["check_paper", "write_sheet"]


def write_sheet(out: str | Path, *, paper: Paper = "a4") -> float:
    """Write the scale sheet for clips as PDF at true scale; returns the length of its check bar in mm."""
    path = Path(out)
    if path.suffix.lower() != ".pdf":
        raise SettingsError(f"'{path.name}' must end in .pdf.")
    from pacewright.render.sheet import CHECK_BAR_MM, sheet_pdf

    write_whole(path, sheet_pdf(paper))
    return CHECK_BAR_MM
