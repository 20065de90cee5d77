"""From recording to strokes: what is found, what is left out, and what is said about it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pacewright.core.recording import FloatArray, Provenance, Recording, TimedStroke, Trace
from pacewright.simulate.laws import LawStroke
from pacewright.simulate.sampling import Sampling, Sensor, record_inertial, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel, random_stroke
from pacewright.stroke.analyse import analyse

PROVENANCE = Provenance("test", "", "test")


def trajectory(time_s: object, x: object, **more: object) -> Recording:
    head = Trace(np.asarray(time_s, float), np.asarray(x, float)[:, None], ("x",))
    return Recording("trajectory", {"head": head}, PROVENANCE, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize("kind", ["trajectory", "inertial"])
def test_every_stroke_is_found_and_told_apart(kind: str) -> None:
    rng = np.random.default_rng(1)
    mixed_up = 0
    for _ in range(12):
        rehearsal = [bool(r) for r in rng.random(4) < 0.4]
        models = [random_stroke(rng, rehearsal=r) for r in rehearsal]
        sampling = Sampling(240.0 if kind == "trajectory" else 400.0, waggle_length_m=rng.uniform(0, 0.03))
        record = record_trajectory if kind == "trajectory" else record_inertial
        simulated = record(models, rng, sampling)
        strokes = analyse(simulated.recording, with_curve=False)
        assert len(strokes) == 4
        mixed_up += sum((s.kind == "rehearsal") != r for s, r in zip(strokes, rehearsal, strict=True))
        assert [s.index for s in strokes] == [0, 1, 2, 3]
        for stroke, model, start in zip(strokes, models, simulated.takeaway_s, strict=True):
            assert stroke.events["impact"].value == pytest.approx(start + model.impact_time_s, abs=0.03)
    assert mixed_up <= 1, "a slow putt that loses a tenth of its speed may pass for a rehearsal"


def test_figures_of_a_plain_stroke() -> None:
    rng = np.random.default_rng(2)
    model = StrokeModel(path_angle_rad=0.03)
    simulated = record_trajectory([model], rng)
    (stroke,) = analyse(simulated.recording)
    for name, true in model.truth().items():
        measure = stroke.measures[name]
        assert abs(measure.value - true) <= 4 * measure.sd + 1e-9, name
        assert measure.sd > 0, name
    assert stroke.curve is not None
    at_contact = int(np.flatnonzero(stroke.curve.time_s == 0.0)[0])
    assert stroke.curve.speed_m_s[at_contact] == stroke.value("impact_speed_m_s")
    assert stroke.curve.speed_after_m_s < stroke.curve.speed_m_s[at_contact]
    assert stroke.curve.position_m[at_contact] == 0.0


def test_driven_pendulum_has_its_published_constant() -> None:
    """v = c·a/T with c = 1.6123, ratio 2, no acceleration at contact (Grober 2009; derived)."""
    rng = np.random.default_rng(3)
    models = [LawStroke("driven pendulum", 0.66, backswing_length_m=0.25) for _ in range(8)]
    strokes = analyse(record_trajectory(models, rng).recording, with_curve=False)  # type: ignore[arg-type]
    mean = {n: np.mean([s.value(n) for s in strokes]) for n in strokes[0].measures}
    constant = mean["impact_speed_m_s"] * mean["downswing_time_s"] / mean["backswing_length_m"]
    assert constant == pytest.approx(1.6123, rel=0.02)
    assert mean["time_ratio"] == pytest.approx(2.0, abs=0.05)
    assert mean["impact_acceleration_m_s2"] == pytest.approx(0.0, abs=0.2)


def test_mounting_and_bias_of_a_sensor_do_not_matter() -> None:
    models = [StrokeModel(), StrokeModel(backswing_length_m=0.3)]
    speeds = []
    for seed in range(4):
        simulated = record_inertial(models, np.random.default_rng(seed), sensor=Sensor(gyro_bias_rad_s=0.05))
        speeds.append([s.value("impact_speed_m_s") for s in analyse(simulated.recording)])
    true = [m.impact_speed_m_s for m in models]
    assert np.allclose(speeds, true, rtol=0.02)


def test_unknown_radius_enters_the_uncertainty() -> None:
    rng = np.random.default_rng(0)
    given_radius = analyse(record_inertial([StrokeModel()], rng).recording)[0]
    default = analyse(record_inertial([StrokeModel()], rng, sensor=Sensor(radius_is_given=False)).recording)[
        0
    ]
    relative = default.sd("impact_speed_m_s") / default.value("impact_speed_m_s")
    assert relative == pytest.approx(0.15 / 1.35, rel=0.05)
    assert given_radius.sd("impact_speed_m_s") < default.sd("impact_speed_m_s") / 5
    assert default.sd("time_ratio") == pytest.approx(given_radius.sd("time_ratio"), rel=0.7)


def test_scale_enters_lengths_and_speeds() -> None:
    simulated = record_trajectory([StrokeModel()], np.random.default_rng(4))
    head = simulated.recording.traces["head"]
    plain = analyse(simulated.recording)[0]
    scaled = analyse(Recording("trajectory", {"head": head}, PROVENANCE, scale_relative_sd=0.05))[0]
    for name in ("backswing_length_m", "impact_speed_m_s"):
        expected = np.hypot(plain.sd(name), 0.05 * plain.value(name))
        assert scaled.sd(name) == pytest.approx(expected, rel=1e-6)
    assert scaled.sd("time_ratio") == plain.sd("time_ratio")


@settings(max_examples=12, deadline=None)
@given(factor=st.floats(0.7, 1.6), shift_s=st.floats(-1000, 1000))
def test_lengths_scale_and_clocks_shift(factor: float, shift_s: float) -> None:
    head = record_trajectory([StrokeModel()], np.random.default_rng(5)).recording.traces["head"]
    x = head.values[:, 0]
    one = analyse(trajectory(head.time_s, x), with_curve=False)[0]
    other = analyse(trajectory(head.time_s + shift_s, factor * x), with_curve=False)[0]
    assert other.value("impact_speed_m_s") == pytest.approx(factor * one.value("impact_speed_m_s"), rel=0.01)
    assert other.value("time_ratio") == pytest.approx(one.value("time_ratio"), rel=0.03)
    assert other.events["impact"].value - shift_s == pytest.approx(one.events["impact"].value, abs=0.002)


@pytest.mark.parametrize("what", ["still", "noise", "walk", "slow", "set down", "one sample", "two samples"])
def test_no_stroke_is_invented(what: str) -> None:
    rng = np.random.default_rng(6)
    t = np.arange(0, 12, 1 / 240)
    x = {
        "still": 0 * t,
        "noise": rng.normal(0, 0.002, t.size),
        "walk": 1.2 * t,
        "slow": 0.3 * np.sin(2 * np.pi * t / 12),
        "set down": 0.4 * np.exp(-3 * t),
        "one sample": np.zeros(1),
        "two samples": np.zeros(2),
    }[what]
    assert analyse(trajectory(t[: x.size], x)) == []


def test_remarks_say_what_is_weak() -> None:
    rng = np.random.default_rng(7)
    sparse = analyse(record_trajectory([StrokeModel()], rng, Sampling(rate_hz=24.0)).recording)
    assert "too-few-samples" in {r.code for r in sparse[0].quality}
    head = record_trajectory([StrokeModel(), StrokeModel()], rng).recording.traces["head"]
    kept = (head.time_s < 1.6) | (head.time_s > 1.68)
    holed = analyse(trajectory(head.time_s[kept], head.values[kept, 0]))
    assert "gap" in {r.code for r in holed[0].quality}
    moving = head.time_s > 1.3
    late = analyse(trajectory(head.time_s[moving], head.values[moving, 0]))
    assert "no-still-address" in {r.code for r in late[0].quality}


def test_a_glitch_is_left_out_and_said() -> None:
    rng = np.random.default_rng(10)
    simulated = record_trajectory([StrokeModel()], rng)
    head = simulated.recording.traces["head"]
    x = head.values[:, 0].copy()
    contact_s = simulated.takeaway_s[0] + StrokeModel().impact_time_s
    x[np.searchsorted(head.time_s, contact_s - 0.05)] += 0.03
    (clean,), (mended,) = analyse(simulated.recording), analyse(trajectory(head.time_s, x))
    assert mended.kind == "putt"
    assert mended.value("impact_speed_m_s") == pytest.approx(clean.value("impact_speed_m_s"), rel=0.01)
    assert "glitch" in {r.code for r in mended.quality}
    assert "glitch" not in {r.code for r in clean.quality}


def ball_run(tau_s: FloatArray, speed_m_s: float, hop_s: float) -> FloatArray:
    """A hop, a slide with friction 0.4 down to 5/7 of the speed, a roll (textbook mechanics)."""
    slide_m_s2 = 0.4 * 9.81
    slide_s = 2 / 7 * speed_m_s / slide_m_s2
    landed = np.maximum(tau_s - hop_s, 0.0)
    slid, rolled = np.minimum(landed, slide_s), np.maximum(landed - slide_s, 0.0)
    flown = np.minimum(tau_s, hop_s)
    return speed_m_s * (flown + slid + 5 / 7 * rolled) - 0.5 * (slide_m_s2 * slid**2 + 0.55 * rolled**2)


@pytest.mark.parametrize("lift_deg", [0.0, 1.0, 2.0, 3.0])
def test_ball_in_view_gives_its_speed_and_settles_contact(lift_deg: float) -> None:
    rng = np.random.default_rng(8)
    model = StrokeModel()
    simulated = record_trajectory([model], rng)
    head = simulated.recording.traces["head"]
    tau = np.maximum(head.time_s - simulated.takeaway_s[0] - model.impact_time_s, 0.0)
    launch = 1.59 * model.impact_speed_m_s
    hop_s = 2 * launch * np.sin(np.radians(lift_deg)) / 9.81
    ball = ball_run(tau, launch, hop_s) + rng.normal(0, 0.0002, tau.size)
    seen = tau < 0.25
    traces = {"head": head, "ball": Trace(head.time_s[seen], ball[seen, None], ("x",))}
    (stroke,) = analyse(Recording("trajectory", traces, PROVENANCE))
    # A hop cannot be told from a faster launch by the travel alone: its share of the uncertainty is stated.
    assert stroke.value("ball_speed_m_s") == pytest.approx(launch, abs=2.5 * stroke.sd("ball_speed_m_s"))
    assert stroke.sd("ball_speed_m_s") < 0.015 * launch
    assert stroke.value("ball_speed_ratio") == pytest.approx(1.59, rel=0.025)
    true_contact_s = simulated.takeaway_s[0] + model.impact_time_s
    assert stroke.events["impact"].value == pytest.approx(true_contact_s, abs=0.0005)
    assert stroke.events["impact"].sd < 0.0005


def test_hand_timed_strokes_carry_the_hand() -> None:
    times = {"takeaway": 1.0, "top": 1.8, "impact": 2.2}
    recording = Recording("timing", {}, PROVENANCE, timed_strokes=(TimedStroke(times, 0.03),))
    (stroke,) = analyse(recording)
    assert stroke.value("time_ratio") == pytest.approx(2.0)
    rng = np.random.default_rng(9)
    pressed = np.array([1.0, 1.8, 2.2]) + rng.normal(0, 0.03, (20000, 3))
    ratios = (pressed[:, 1] - pressed[:, 0]) / (pressed[:, 2] - pressed[:, 1])
    assert stroke.sd("time_ratio") == pytest.approx(float(np.std(ratios)), rel=0.15)
    assert stroke.sd("downswing_time_s") == pytest.approx(0.03 * np.sqrt(2))


@pytest.mark.parametrize("share", [0.2, 0.4, 0.6])
def test_a_takeaway_before_the_recording_began_is_not_claimed_to_be_known(share: float) -> None:
    model = StrokeModel()
    simulated = record_trajectory([model], np.random.default_rng(3))
    head = simulated.recording.traces["head"]
    takeaway_s = float(simulated.takeaway_s[0])
    seen = head.time_s > takeaway_s + share * model.backswing_time_s
    trace = Trace(head.time_s[seen], head.values[seen], head.axes)
    (stroke,) = analyse(Recording("trajectory", {"head": trace}, PROVENANCE))
    takeaway = stroke.events["takeaway"]
    assert abs(takeaway.value - takeaway_s) < 3 * takeaway.sd
    assert stroke.sd("time_ratio") > 0.1
