"""What a player's strokes show: findings with evidence, cause and advice in plain words.

Observations are decided one by one with their uncertainty; those that belong together become one story.
Method page: docs/methods/findings.md.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from pacewright.coaching.bands import band_observations
from pacewright.coaching.norms import norm
from pacewright.coaching.over_lengths import length_observations
from pacewright.coaching.own_baseline import baseline_observations
from pacewright.coaching.repeats import repeat_observations
from pacewright.coaching.samples import POOR_QUALITY, usable
from pacewright.coaching.stories import CONFIDENCES, SEVERITIES, told
from pacewright.coaching.words import counted, listed, putts_counted
from pacewright.core.finding import Finding
from pacewright.core.stroke import Stroke


def find(strokes: Sequence[Stroke], *, baseline: Sequence[Stroke] = ()) -> list[Finding]:
    """Findings over ``strokes`` of one player, the weightiest first.

    ``baseline`` are other strokes of the same player, the yardstick where they are given. Strokes are cited
    by their ``index``. Rehearsal strokes and putts of poor quality are not judged.
    """
    putts, poor = usable(strokes)
    own, _ = usable(baseline)
    findings = told(observe(putts, own), putts)
    if len(putts) < norm("strokes-to-say").value:
        findings.append(_few_strokes(putts))
    if poor:
        findings.append(_left_out(poor))
    return sorted(findings, key=_weight, reverse=True)


def observe(putts: Sequence[Stroke], baseline: Sequence[Stroke] = ()) -> list[Finding]:
    """The single observations on usable putts, before they are made into stories."""
    found = band_observations(putts, baseline) + length_observations(putts) + repeat_observations(putts)
    return found + baseline_observations(putts, baseline, [observation.id for observation in found])


def _weight(finding: Finding) -> tuple[int, int, int]:
    """Severity, then how much a finding explains, then confidence."""
    return (
        SEVERITIES.index(finding.severity),
        len(finding.chain),
        CONFIDENCES.index(finding.confidence),
    )


def _few_strokes(putts: Sequence[Stroke]) -> Finding:
    return Finding(
        id="few-strokes",
        severity="note",
        confidence="high",
        statement="There are too few putts to say much." if putts else "There is no putt to judge.",
        evidence=f"{putts_counted(putts)} could be judged; {norm('strokes-to-say').value:g} are the fewest.",
        cause="Strokes differ by chance; with so few, only a large departure stands out.",
        advice="Record ten putts at each length.",
        source=norm("strokes-to-say").source,
        stroke_indices=tuple(stroke.index for stroke in putts),
    )


def _left_out(poor: Sequence[Stroke]) -> Finding:
    reasons = Counter(r.code for stroke in poor for r in stroke.quality if r.code in POOR_QUALITY)
    shown = listed([f"{_REASONS[code]} ({counted(count, 'putt')})" for code, count in reasons.most_common()])
    return Finding(
        id="strokes-left-out",
        severity="note",
        confidence="high",
        statement=f"{putts_counted(poor)} {'was' if len(poor) == 1 else 'were'} left out for quality.",
        evidence=f"Reasons: {shown}.",
        cause="",
        advice="See the remarks on each stroke; more samples a second help most.",
        source="The remarks of this recording.",
        stroke_indices=tuple(stroke.index for stroke in poor),
    )


_REASONS = {
    "too-few-samples": "too few samples",
    "gap": "part of the stroke was not recorded",
    "contact-not-clear": "contact with the ball not clear",
}
