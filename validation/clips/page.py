"""The tables of docs/validation-clips.md."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from validation.clips.score import CONTACT, Result

COLUMNS: tuple[tuple[str, str, float], ...] = (
    (CONTACT, "contact, ms", 1000.0),
    ("impact_speed_m_s", "impact speed, %", 100.0),
    ("time_ratio", "time ratio", 1.0),
    ("ball_speed_m_s", "ball speed, %", 100.0),
    ("impact_acceleration_m_s2", "acceleration, m/s²", 1.0),
    ("backswing_length_m", "backswing, mm", 1000.0),
)
INTRODUCTION = """# Validation: clips against known truth

Made by `python -m validation.clips` (seeded). The clips are rendered by `validation/clips`, which
shares no code with
the tracker: a perspective camera, blur of the exposure, noise, shadows, textured ground, a player
with moving hands,
legs and shoes, and real encoders. Strokes come from `src/pacewright/simulate`; everything else is
drawn within stated
ranges (`validation/clips/draw.py`). The tool gets the file alone: no view, no scale, no point given by hand.

Errors are sizes: median, then 95th percentile over the clips in which the stroke was found. The
head's place is judged
from takeaway to finish, rms along and across the line; the tool chooses its own point of the head,
so that one fixed
point of it (three numbers in the head's frame) is taken away first. Contact is on the clock of the
file, at the row the
ball lies in; speeds are those of the middle of the face. "Beyond 4" is the share of figures whose
error exceeds four of their stated standard uncertainties, then the number of clips that hold one.
"""


def page(results: Sequence[Result], of: int) -> str:
    """The whole page, for these results ``of`` so many clips in the catalogue."""
    part = f"{len(results)} of the {of} clips of the catalogue are measured here."
    groups = list(dict.fromkeys(result.group for result in results))
    parts = [INTRODUCTION, part, "", *summary(results, groups)]
    for group in groups:
        parts += ["", f"## {group}", "", *details([result for result in results if result.group == group])]
    return "\n".join(parts) + "\n"


def summary(results: Sequence[Result], groups: Sequence[str]) -> list[str]:
    """One row a group and view, for the clips that hold a stroke with a ball."""
    heading = "| clips | found | head along, px | head across, px | " + " | ".join(c[1] for c in COLUMNS)
    rows = [f"{heading} | beyond 4 |", "|---" * (5 + len(COLUMNS)) + "|"]
    for group in groups:
        for view in ("above", "front"):
            asked = [r for r in results if r.group == group and r.view == view and r.expected]
            if asked:
                rows.append(_summary_row(f"{group}, {view}", asked))
    return rows


def _summary_row(name: str, asked: Sequence[Result]) -> str:
    found = [result for result in asked if result.found]
    cells = [name, f"{len(found)} of {len(asked)}"]
    cells += [_spread([result.head_rms_px[axis] for result in found], 1.0) for axis in (0, 1)]
    cells += [_spread([r.errors.get(figure, np.nan) for r in found], factor) for figure, _, factor in COLUMNS]
    figures = sum(len(result.errors) for result in found)
    beyond = sum(len(result.beyond) for result in found)
    clips = sum(bool(result.beyond) for result in found)
    cells.append(f"{100 * beyond / figures:.0f} %; {clips} of {len(found)}" if figures else "–")
    return "| " + " | ".join(cells) + " |"


def _spread(values: Sequence[float], factor: float) -> str:
    size = np.abs(np.array(values, dtype=float)) * factor
    size = size[np.isfinite(size)]
    if not size.size:
        return "–"
    return f"{np.median(size):.2g}; {np.percentile(size, 95):.2g}"


def details(results: Sequence[Result]) -> list[str]:
    """One row a clip: its errors with their stated uncertainties, and what the tool said."""
    heading = "| clip | found | head px | " + " | ".join(c[1] for c in COLUMNS)
    rows = [f"{heading} | said |", "|---" * (4 + len(COLUMNS)) + "|"]
    for result in results:
        found = ("yes" if result.found else "no") if result.expected else "nothing to find"
        if result.invented:
            found += f", {result.invented} invented"
        if result.as_filmed:
            found += f" ({result.as_filmed} wrong)"
        along, across = result.head_rms_px
        cells = [result.name, found, f"{along:.2f}, {across:.2f}" if np.isfinite(along) else "–"]
        for figure, _, factor in COLUMNS:
            if figure in result.errors:
                far = " **!**" if figure in result.beyond else ""
                cells.append(
                    f"{result.errors[figure] * factor:+.2g} ± {result.sds[figure] * factor:.2g}{far}"
                )
            else:
                cells.append("–")
        said = result.said if not result.found else ""
        cells.append(said.replace("|", "/").replace("\n", " "))
        rows.append("| " + " | ".join(cells) + " |")
    return rows
