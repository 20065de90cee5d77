"""A figure with its standard uncertainty, and a remark about quality."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Measure:
    """A measured figure.

    ``value`` and ``sd`` (standard uncertainty, nan where unknown) are in the unit that the name in
    the registry ends with; ``method`` names the file of `docs/methods` that explains the figure.
    """

    value: float
    sd: float
    method: str = ""

    def interval(self, coverage_factor: float = 1.96) -> tuple[float, float]:
        """Low and high end of value ± coverage_factor·sd (95 % for the default)."""
        half = coverage_factor * self.sd
        return self.value - half, self.value + half

    @property
    def is_known(self) -> bool:
        """Whether the value is a finite number."""
        return math.isfinite(self.value)


@dataclass(frozen=True, slots=True)
class Remark:
    """A remark on quality: a stable ``code`` for programs and a plain sentence for people."""

    code: str
    text: str
