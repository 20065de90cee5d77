"""What a player's strokes show: findings with evidence, cause and advice in plain words."""

from __future__ import annotations

from collections.abc import Sequence

from pacewright.coaching.norms import norm
from pacewright.core.finding import Finding
from pacewright.core.stroke import Stroke


def find(strokes: Sequence[Stroke], *, baseline: Sequence[Stroke] = ()) -> list[Finding]:
    """Findings over ``strokes`` of one player, the weightiest first.

    ``baseline`` are earlier strokes of the same player, the yardstick where they are given.
    """
    putts = [stroke for stroke in strokes if stroke.kind == "putt"]
    if len(putts) < norm("strokes-to-say").value:
        return [_few_strokes(putts)]
    return []


def _few_strokes(putts: Sequence[Stroke]) -> Finding:
    count = f"{len(putts)} putt{'' if len(putts) == 1 else 's'}"
    return Finding(
        id="few-strokes",
        severity="note",
        confidence="high",
        statement="There are too few strokes to say much.",
        evidence=f"{count} could be judged.",
        cause="Strokes differ by chance; with so few, only a large departure stands out.",
        advice="Record ten putts at each length.",
        source=norm("strokes-to-say").source,
        stroke_indices=tuple(stroke.index for stroke in putts),
    )
