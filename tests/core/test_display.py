"""Figures as text: digits follow the uncertainty, and the two systems agree."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.core.display import (
    column_decimals,
    decimals_for,
    format_both,
    format_figure,
    format_measure,
    format_number,
    format_putt_length,
    format_putt_length_both,
    quantity_of,
)
from pacewright.core.errors import SettingsError
from pacewright.core.measure import Measure
from pacewright.core.registry import MEASURES


@pytest.mark.parametrize(
    ("value", "sd", "text"),
    [
        (0.6237, 0.0131, "0.624 ± 0.013 s"),
        (0.6237, 0.0096, "0.624 ± 0.010 s"),
        (0.6237, 0.04, "0.62 ± 0.04 s"),
        (0.6237, 0.5, "0.6 ± 0.5 s"),
        (12.37, 3.0, "12 ± 3 s"),
        (0.6237, math.nan, "0.62 s"),
        (0.6237, 0.0, "0.62 s"),
        (0.6237, 1e-7, "0.6237 ± <0.0001 s"),
    ],
)
def test_digits_follow_the_uncertainty(value: float, sd: float, text: str) -> None:
    assert str(format_figure(value, "time", "metric", sd)) == text


def test_a_column_keeps_its_decimals_together() -> None:
    sds = [0.0018, 0.002, 0.003, 0.04]
    decimals = column_decimals(sds, "time", "metric")
    shown = [str(format_figure(0.3417, "time", "metric", sd, most_decimals=decimals)) for sd in sds]
    assert shown == ["0.342 ± 0.002 s", "0.342 ± 0.002 s", "0.342 ± 0.003 s", "0.34 ± 0.04 s"]
    assert column_decimals([], "time", "metric") == 2


def test_both_systems() -> None:
    assert format_both(0.2413, "stroke_length") == "24.1 cm (9.5 in)"
    assert format_both(0.2413, "stroke_length", "imperial") == "9.5 in (24.1 cm)"
    assert format_both(0.62, "time") == "0.62 s"
    assert format_putt_length(3.048, "imperial") == "10 ft"
    assert format_putt_length_both(3.048) == "3.05 m (10 ft)"
    assert format_putt_length(100.0, "metric") == "100 m"


def test_missing_and_zero() -> None:
    assert str(format_figure(math.nan, "speed", "metric")) == "–"
    assert str(format_measure("time_ratio", None, "metric")) == "–"
    assert format_number(-0.001, 2) == "0.00"
    assert format_number(-0.4, 1) == "−0.4"


@pytest.mark.parametrize("name", sorted(MEASURES))
def test_every_measure_of_the_registry_can_be_shown(name: str) -> None:
    for units in ("metric", "imperial"):
        figure = format_measure(name, Measure(1.0, 0.1), units)
        assert figure.value not in ("", "–")
        assert figure.sd


def test_roll_out_is_walked_and_backswing_is_not() -> None:
    assert quantity_of("roll_out_m") == "putt_length"
    assert quantity_of("backswing_length_m") == "stroke_length"


def test_unknown_units_are_refused() -> None:
    from pacewright.core.display import check_units

    with pytest.raises(SettingsError, match="metric or imperial"):
        check_units("furlong")


@given(sd=st.floats(1e-4, 50.0), value=st.floats(-100.0, 100.0))
def test_rounding_hides_less_than_half_an_uncertainty(sd: float, value: float) -> None:
    figure = format_figure(value, "number", "metric", sd)
    shown = float(figure.value.replace("−", "-"))
    assert abs(shown - value) <= 0.5 * max(sd, 10.0 ** -decimals_for(sd, 2)) + 1e-12
