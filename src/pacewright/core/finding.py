"""A finding: what stands in the way, on what evidence, why, and what to do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "watch", "act"]
Confidence = Literal["low", "fair", "high"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One story for a coach.

    ``evidence`` is a plain sentence with the figures; ``stroke_indices`` are the strokes behind it;
    ``chain`` lists the ids of the single observations that this story links, cause first.
    """

    id: str
    severity: Severity
    confidence: Confidence
    statement: str
    evidence: str
    cause: str
    advice: str
    source: str
    stroke_indices: tuple[int, ...] = ()
    chain: tuple[str, ...] = ()
