"""What a report shows. The use case fills it; rendering neither queries nor computes.

Values are in SI units with their standard uncertainties; rendering turns them into text in the units of the
report (`core/display.py`) and into marks on paper.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from pacewright.core.display import Units
from pacewright.core.errors import SettingsError
from pacewright.core.finding import Finding
from pacewright.core.measure import Measure, Remark
from pacewright.core.registry import MeasureDefinition
from pacewright.core.station import Station
from pacewright.core.stroke import StrokeCurve, StrokeKind


@dataclass(frozen=True, slots=True)
class StrokeRow:
    """One stroke of the report under the ``label`` that findings and charts call it by.

    Times of takeaway, top and finish are in seconds from contact (nan where they were not seen).
    """

    label: str
    kind: StrokeKind
    measures: Mapping[str, Measure]
    takeaway_time_s: float = math.nan
    top_time_s: float = math.nan
    finish_time_s: float = math.nan
    curve: StrokeCurve | None = None
    asked_length_m: float | None = None
    remarks: tuple[Remark, ...] = ()


@dataclass(frozen=True, slots=True)
class Spread:
    """A measure over the putts of the report: mean, standard deviation between strokes, and their number."""

    measure: str
    mean: float
    between_sd: float
    count: int


@dataclass(frozen=True, slots=True)
class ReferenceBand:
    """A published or common range for a measure, with its source; it guides the eye and judges nobody."""

    measure: str
    low: float
    high: float
    source: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure with its 90 % interval, under a label."""

    label: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Table:
    """A table of words: heads of its columns, and rows as long."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What putts say to one question: the answer, what it rests on, tables, what else there is, notes.

    ``question`` is ``shares`` (figures are shares of the variance), ``change`` (ratios of spread, after over
    before) or ``beat`` (spreads as shares of the distance, ``places`` the beats they belong to and ``chosen``
    the one to use). ``source`` says which putts. Figures are drawn; without any there is no chart.
    """

    question: Literal["shares", "change", "beat"]
    source: str
    statement: str
    sentences: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    further: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    figures: tuple[Figure, ...] = ()
    places: tuple[float, ...] = ()
    chosen: float = math.nan


@dataclass(frozen=True, slots=True)
class ReportModel:
    """Everything on the pages of a report.

    ``columns`` are the measures of the table of strokes, ``drawn_row`` the index of the row that is drawn
    stroke by stroke (None draws none), ``beat_times_s`` the three beats of that stroke from contact
    (empty draws none). Findings name strokes by index into ``rows``. ``definitions`` hold an entry for
    each measure that is shown. ``station`` may be missing. ``answers`` come from tables of putts; a report
    may hold nothing else.
    """

    title: str
    player: str
    date: datetime.date
    units: Units
    recordings: tuple[str, ...]
    rows: tuple[StrokeRow, ...]
    columns: tuple[str, ...]
    caution: str
    definitions: tuple[MeasureDefinition, ...]
    recording_remarks: tuple[Remark, ...] = ()
    drawn_row: int | None = None
    beat_times_s: tuple[float, ...] = ()
    spreads: tuple[Spread, ...] = ()
    bands: tuple[ReferenceBand, ...] = ()
    findings: tuple[Finding, ...] = ()
    station: Station | None = None
    green: str = ""
    answers: tuple[Answer, ...] = ()

    def __post_init__(self) -> None:
        shown = {*self.columns, *(spread.measure for spread in self.spreads)}
        missing = shown - {definition.name for definition in self.definitions}
        if missing:
            raise SettingsError(f"A report shows {', '.join(sorted(missing))} but does not define it.")
        if self.drawn_row is not None and self.rows[self.drawn_row].curve is None:
            raise SettingsError("A report cannot draw a stroke that has no curve.")

    def answer(self, question: str) -> Answer | None:
        """The answer to a question, None when the report has none."""
        return next((answer for answer in self.answers if answer.question == question), None)

    def band(self, measure: str) -> ReferenceBand | None:
        """The reference band of a measure, None when there is none."""
        return next((band for band in self.bands if band.measure == measure), None)

    def definition(self, measure: str) -> MeasureDefinition:
        """The definition of a measure that the report shows."""
        return next(definition for definition in self.definitions if definition.name == measure)
