"""Quantities as people write them: what goes in comes out, and what makes no sense is refused with advice."""

from __future__ import annotations

import contextlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.core.errors import SettingsError
from pacewright.core.units import (
    COLUMN_ENDINGS,
    FOOT_M,
    INCH_M,
    factor_to_si,
    parse_length,
    parse_quantity,
    parse_slope,
    parse_speed,
    split_column_name,
)

figures = st.floats(min_value=-1e6, max_value=1e6, allow_nan=False).map(lambda v: 0.0 if abs(v) < 1e-9 else v)

UNITS = [
    ("length", "m"), ("length", "cm"), ("length", "mm"), ("length", "km"), ("length", "in"), ("length", "ft"),
    ("length", "yd"), ("time", "s"), ("time", "ms"), ("time", "us"), ("time", "min"), ("speed", "m/s"),
    ("speed", "ft/s"), ("speed", "km/h"), ("speed", "mph"), ("acceleration", "m/s2"), ("acceleration", "g"),
    ("angle", "deg"), ("angular_rate", "deg/s"), ("mass", "g"), ("mass", "oz"), ("frequency", "khz"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        # By definition: an inch is 25.4 mm, a foot 12 in, a yard 3 ft, a mile 5,280 ft (NIST SP 811).
        ("1in", "length", 0.0254),
        ("1 ft", "length", 0.3048),
        ("1yd", "length", 0.9144),
        ("1mph", "speed", 5280 * 0.3048 / 3600),
        ("36 km/h", "speed", 10.0),
        ("1 g", "acceleration", 9.80665),
        ("1 lb", "mass", 0.45359237),
        ("16oz", "mass", 0.45359237),
        ("180deg", "angle", math.pi),
        ("180°", "angle", math.pi),
        ("2,5 m", "length", 2.5),
        ("1e3mm", "length", 1.0),
        (".5 m", "length", 0.5),
        ("5 Feet", "length", 1.524),
        ("250 ms", "time", 0.25),
        ("2 m/s²", "acceleration", 2.0),
    ],
)
def test_known_values(text: str, dimension: str, expected: float) -> None:
    assert parse_quantity(text, dimension) == pytest.approx(expected, rel=1e-12)


@given(value=figures, unit=st.sampled_from(UNITS), space=st.sampled_from(["", " ", "  "]))
def test_a_quantity_comes_back_as_it_was_written(value: float, unit: tuple[str, str], space: str) -> None:
    dimension, symbol = unit
    si = parse_quantity(f"{value!r}{space}{symbol}", dimension)
    assert si / factor_to_si(symbol, dimension) == pytest.approx(value, rel=1e-12, abs=1e-300)


@given(value=figures, unit=st.sampled_from(UNITS))
def test_a_decimal_comma_means_the_same_as_a_point(value: float, unit: tuple[str, str]) -> None:
    dimension, symbol = unit
    text = f"{value:.6f}{symbol}"
    assert parse_quantity(text.replace(".", ","), dimension) == parse_quantity(text, dimension)


@given(
    feet=st.integers(0, 300),
    inches=st.floats(0, 12, allow_nan=False),
    style=st.sampled_from(["{f}ft {i}in", "{f}'{i}\"", "{f} feet {i} inches", "{f}′ {i}″", "{f}ft{i}"]),
    sign=st.sampled_from(["", "-"]),
)
def test_feet_and_inches_stand_together(feet: int, inches: float, style: str, sign: str) -> None:
    text = sign + style.format(f=feet, i=f"{inches:.4f}")
    size = feet * FOOT_M + float(f"{inches:.4f}") * INCH_M
    assert parse_length(text) == pytest.approx(-size if sign else size, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "   ", "ft", "ten feet", "3", "3 parsec", "nan m", "inf ft", "1e999 m", "1e999ft 2in", "3ft 1e999in",
     "9ft -6in", "1.2.3m", "--3m", "3m4", "3s", "0x10m", "3 m m"],
)  # fmt: skip
def test_what_is_not_a_length_is_refused_and_quoted(text: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_length(text)
    assert text.strip() in str(caught.value)


@given(st.text(max_size=12))
def test_any_text_is_a_finite_length_or_a_settings_error(text: str) -> None:
    with contextlib.suppress(SettingsError):
        assert math.isfinite(parse_length(text))


def test_a_message_says_which_units_would_do() -> None:
    with pytest.raises(SettingsError, match=r"'3' has no unit; add one of: m, cm, mm"):
        parse_length("3")
    with pytest.raises(SettingsError, match=r"In '3s', 's' is not a unit of length; use one of: m, cm"):
        parse_length("3s")


def test_a_bare_number_takes_the_default_unit_where_there_is_one() -> None:
    assert parse_quantity("10", "length", default_unit="ft") == pytest.approx(3.048)
    assert parse_quantity("10m", "length", default_unit="ft") == 10.0
    assert parse_speed("2.386m/s") == 2.386


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2%", math.atan(0.02)),
        ("-2 %", -math.atan(0.02)),
        ("1,5%", math.atan(0.015)),
        ("100%", math.pi / 4),
        ("0%", 0.0),
        ("1.5deg", math.radians(1.5)),
        ("0.02 rad", 0.02),
    ],
)
def test_slope_is_rise_over_run_or_an_angle(text: str, expected: float) -> None:
    assert parse_slope(text) == pytest.approx(expected, abs=1e-15)


@pytest.mark.parametrize("text", ["2", "%", "2 m%", "two%", "2%%", "2ft"])
def test_what_is_not_a_slope_is_refused(text: str) -> None:
    with pytest.raises(SettingsError, match="is not a slope; give it as 2% or"):
        parse_slope(text)


@pytest.mark.parametrize(
    ("column", "expected"),
    [
        ("head_x_mm", ("head_x", "length", 0.001)),
        ("accel_x_m_s2", ("accel_x", "acceleration", 1.0)),
        ("gyro_z_deg_s", ("gyro_z", "angular_rate", math.pi / 180)),
        ("accel_y_g", ("accel_y", "acceleration", 9.80665)),
        (" Time_S ", ("time", "time", 1.0)),
        ("time_ms", ("time", "time", 0.001)),
        ("head_x", None),
        ("_m", None),
        ("", None),
    ],
)
def test_the_unit_of_a_column_is_in_its_ending(column: str, expected: tuple[str, str, float] | None) -> None:
    assert split_column_name(column) == expected


@given(stem=st.from_regex(r"\A[a-z]{1,8}(_[xyz])?\Z"), ending=st.sampled_from(COLUMN_ENDINGS))
def test_every_ending_is_read_as_itself_and_not_as_a_shorter_one(
    stem: str, ending: tuple[str, str, float]
) -> None:
    text, dimension, factor = ending
    assert split_column_name(stem + text) == (stem, dimension, factor)
