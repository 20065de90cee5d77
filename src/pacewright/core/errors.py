"""The error tree. Every message says what was wrong, where, and what to do.

PacewrightError
├── ReadError        a file could not be read as a recording
├── QualityError     the recording was read, but cannot carry the figure asked for
├── SimulationError  a physical model has no answer for these inputs
├── RecordError      a stored record is missing, damaged or in conflict
└── SettingsError    an option, unit or profile does not make sense
"""

from __future__ import annotations


class PacewrightError(Exception):
    """Base of every error that Pacewright raises on purpose; its text is fit for a user."""


class ReadError(PacewrightError):
    """A file could not be read as a recording."""


class QualityError(PacewrightError):
    """The recording was read, but cannot carry the figure asked for."""


class SimulationError(PacewrightError):
    """A physical model has no answer for these inputs."""


class RecordError(PacewrightError):
    """A stored record is missing, damaged or in conflict."""


class SettingsError(PacewrightError):
    """An option, unit or profile does not make sense."""
