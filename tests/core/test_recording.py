"""A trace holds finite samples in order of time, and nothing else gets in."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pacewright.core.errors import ReadError
from pacewright.core.measure import Measure
from pacewright.core.recording import Provenance, Recording, Trace

TIMES = np.arange(5) / 100.0
PLACES = np.column_stack([np.linspace(0.0, 1.0, 5), np.linspace(2.0, 3.0, 5)])
PROVENANCE = Provenance("stroke.csv", "0" * 64, "trajectory-csv")


@given(rate_hz=st.floats(1.0, 10_000.0), samples=st.integers(2, 50))
def test_the_rate_is_that_of_the_samples(rate_hz: float, samples: int) -> None:
    times = np.arange(samples) / rate_hz
    assert Trace(times, np.zeros((samples, 1)), ("x",)).rate_hz == pytest.approx(rate_hz, rel=1e-6)


def test_a_gap_does_not_move_the_rate() -> None:
    times = np.concatenate([TIMES, TIMES + 10.0])
    assert Trace(times, np.zeros((10, 1)), ("x",)).rate_hz == pytest.approx(100.0)


@pytest.mark.parametrize("samples", [0, 1])
def test_fewer_than_two_samples_have_no_rate(samples: int) -> None:
    assert math.isnan(Trace(TIMES[:samples], PLACES[:samples], ("x", "y")).rate_hz)


def test_an_axis_is_found_by_name_and_a_missing_one_is_none() -> None:
    trace = Trace(TIMES, PLACES, ("x", "z"))
    z = trace.axis("z")
    assert z is not None
    np.testing.assert_array_equal(z, PLACES[:, 1])
    assert trace.axis("y") is None


@pytest.mark.parametrize(
    ("values", "axes"),
    [(PLACES, ("x",)), (PLACES[:4], ("x", "y")), (PLACES[:, 0], ("x",)), (PLACES, ())],
)
def test_a_shape_that_does_not_fit_is_refused(values: np.ndarray, axes: tuple[str, ...]) -> None:
    with pytest.raises(ReadError, match="one row for each time and one column for each axis"):
        Trace(TIMES, values, axes)


@pytest.mark.parametrize("times", [[0.0, 0.1, 0.1], [0.0, 0.2, 0.1], [0.2, 0.1, 0.0]])
def test_times_that_stand_still_or_go_back_are_refused(times: list[float]) -> None:
    with pytest.raises(ReadError, match="must increase"):
        Trace(np.array(times), np.zeros((3, 1)), ("x",))


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("where", ["time", "value"])
def test_a_sample_that_is_no_number_is_refused(bad: float, where: str) -> None:
    times, values = TIMES.copy(), PLACES.copy()
    if where == "time":
        times[-1] = bad
    else:
        values[2, 1] = bad
    with pytest.raises(ReadError):
        Trace(times, values, ("x", "y"))


def test_a_recording_has_the_rate_of_its_first_trace_and_none_when_timed_by_hand() -> None:
    head = Trace(TIMES, PLACES, ("x", "y"))
    assert Recording("trajectory", {"head": head}, PROVENANCE).rate_hz == pytest.approx(100.0)
    assert math.isnan(Recording("timing", {}, PROVENANCE).rate_hz)


def test_a_recording_says_what_it_assumes() -> None:
    plain = Recording("inertial", {}, PROVENANCE)
    assert plain.arc_radius_m is None
    assert not plain.mirrored
    assert plain.scale_relative_sd == 0.0
    assert Recording("inertial", {}, PROVENANCE, arc_radius_m=Measure(1.35, 0.01)).arc_radius_m is not None
