"""Pacewright: from a recorded putting stroke to a practice station.

``import pacewright as pw`` gives the whole public API; names load their modules on first use, so
that the import itself is quick.
"""

from __future__ import annotations

import importlib
from typing import Any

_HOMES: dict[str, str] = {
    "PacewrightError": "pacewright.core.errors",
    "ReadError": "pacewright.core.errors",
    "QualityError": "pacewright.core.errors",
    "SimulationError": "pacewright.core.errors",
    "RecordError": "pacewright.core.errors",
    "SettingsError": "pacewright.core.errors",
    "Measure": "pacewright.core.measure",
    "Remark": "pacewright.core.measure",
    "MEASURES": "pacewright.core.registry",
    "Recording": "pacewright.core.recording",
    "Trace": "pacewright.core.recording",
    "Stroke": "pacewright.core.stroke",
    "Green": "pacewright.core.green",
    "Putter": "pacewright.core.equipment",
    "Launch": "pacewright.core.launch",
    "Finding": "pacewright.core.finding",
    "Station": "pacewright.core.station",
    "PuttStation": "pacewright.core.station",
}

__all__ = sorted([*_HOMES, "__version__"])
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module 'pacewright' has no attribute '{name}'")
    value = getattr(importlib.import_module(home), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return list(__all__)
