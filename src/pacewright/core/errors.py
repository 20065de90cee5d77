"""The error tree. Every message says what was wrong, where, and what to do.

PacewrightError
├── ReadError        a file could not be read as a recording
├── QualityError     the recording was read, but cannot carry the figure asked for
├── SimulationError  a physical model has no answer for these inputs
├── RecordError      a stored record is missing, damaged or in conflict
│   ├── NotFoundError    there is no such record, or not for whoever asks
│   ├── ConflictError    somebody else changed it meanwhile, or it is there already
│   ├── ForbiddenError   whoever asks may not do this
│   ├── ConsentError     the consent that this needs was not given
│   ├── LimitError       too large, or too many
│   └── FileKindError    a file of a kind that is not taken
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


class NotFoundError(RecordError):
    """There is no such record, or not for whoever asks."""


class ConflictError(RecordError):
    """Somebody else changed the record meanwhile, or it is there already."""


class ForbiddenError(RecordError):
    """Whoever asks may not do this."""


class ConsentError(RecordError):
    """The consent that this needs was not given."""


class LimitError(RecordError):
    """Too large, or too many."""


class FileKindError(RecordError):
    """A file of a kind that is not taken. ``taken`` names the kinds that are."""

    def __init__(self, message: str, taken: tuple[str, ...] = ()) -> None:
        super().__init__(message)
        self.taken = taken


class SettingsError(PacewrightError):
    """An option, unit or profile does not make sense."""
