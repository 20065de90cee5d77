"""The player's own law of head speed: against a mixed model of statsmodels and players of known law."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from pacewright.coaching.player_model import (
    TEXTBOOK_CONSTANT,
    PlayerModel,
    SwingData,
    data_from_putts,
    data_from_strokes,
    fit_player_model,
)
from pacewright.coaching.pooling import Prior, groups, pooled_line
from pacewright.core.errors import QualityError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Putt
from pacewright.core.stroke import Stroke
from pacewright.simulate.players import (
    MeasurementNoise,
    SimulatedPlayer,
    Task,
    simulate_mixed,
    simulate_putts,
)

NO_PRIOR = Prior(0.0, 30.0, 0.0, 30.0)


def _grouped(seed: int, sessions: int, each: int, session_sd: float) -> tuple[NDArray[np.float64], ...]:
    rng = np.random.default_rng(seed)
    day = np.repeat(np.arange(sessions), each)
    x = rng.uniform(-0.5, 0.5, day.size)
    y = (
        0.5
        + 0.08 * x
        + session_sd * rng.standard_normal(sessions)[day]
        + 0.03 * rng.standard_normal(day.size)
    )
    return x, y, day


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_partial_pooling_agrees_with_a_mixed_model_of_statsmodels(seed: int) -> None:
    """Many sessions, so that the stated priors weigh little: level, slope and SDs as REML finds them."""
    from statsmodels.regression.mixed_linear_model import MixedLM

    x, y, day = _grouped(seed, sessions=30, each=12, session_sd=0.04)
    # In tenths, for statsmodels takes a small variance for one on the boundary.
    theirs = MixedLM(10.0 * y, np.column_stack([np.ones(x.size), x]), groups=day).fit(reml=True)
    ours = pooled_line(y, x, NO_PRIOR, groups(day), np.zeros((x.size, 0)))
    errors = np.sqrt(np.diag(ours.covariance)[:2])
    assert ours.coefficients[:2] == pytest.approx(theirs.fe_params / 10.0, abs=0.15 * errors.max())
    assert errors == pytest.approx(theirs.bse_fe / 10.0, rel=0.12)
    assert ours.scatter == pytest.approx(math.sqrt(theirs.scale) / 10.0, rel=0.03)
    assert ours.session_sd == pytest.approx(
        math.sqrt(float(np.asarray(theirs.cov_re)[0, 0])) / 10.0, rel=0.12
    )
    offsets = np.array([float(np.asarray(theirs.random_effects[k]).item()) for k in range(30)])
    assert ours.coefficients[2:] == pytest.approx(offsets / 10.0, abs=0.004)


def test_without_groups_and_priors_it_is_least_squares() -> None:
    x, y, _ = _grouped(4, sessions=1, each=200, session_sd=0.0)
    nothing = np.zeros((x.size, 0))
    ours = pooled_line(y, x, NO_PRIOR, nothing, nothing)
    slope, level = np.polyfit(x, y, 1)
    assert ours.coefficients == pytest.approx([level, slope], abs=1e-4)


def test_sessions_are_drawn_together_by_as_much_as_they_leave_open() -> None:
    """A session of 3 strokes is drawn far more towards the others than one of 60."""
    rng = np.random.default_rng(5)
    day = np.repeat(np.arange(9), [3, 60, *[20] * 7])
    y = 0.1 * (day == 0) + 0.1 * (day == 1) + 0.03 * rng.standard_normal(day.size)
    y[day == 0] += 0.1 - y[day == 0].mean()
    y[day == 1] += 0.1 - y[day == 1].mean()
    line = pooled_line(y, np.zeros(day.size), Prior(0.0, 1.0, 0.0, 0.0), groups(day), np.zeros((day.size, 0)))
    few, many = (line.coefficients[0] + line.coefficients[2 + k] for k in (0, 1))
    assert few < many < 0.1


def test_the_constant_the_ratio_and_the_spread_of_a_known_player_come_back() -> None:
    """Constant 1.7, ratio 1.52, spread of c 1.5 % (shape term 3 % of roll-out), read through 240-Hz noise."""
    player = SimulatedPlayer(swing_constant=1.7, ball_speed_ratio=1.52)
    model = fit_player_model(data_from_putts(simulate_mixed(player, np.random.default_rng(6), 300)))
    assert model.constant.value == pytest.approx(1.7, abs=3 * model.constant.sd)
    assert model.constant.sd < 0.01
    assert model.spread == pytest.approx(0.015, rel=0.15)
    assert model.ratio is not None
    assert model.ratio.value == pytest.approx(1.52, abs=3 * model.ratio.sd)
    speed = model.head_speed(0.25, 0.31)
    assert speed.value == pytest.approx(1.7 * 0.25 / 0.31, rel=0.01)
    assert speed.sd / speed.value == pytest.approx(0.015, rel=0.3)


def test_uncertainties_hold_the_truth_as_often_as_they_say() -> None:
    player = SimulatedPlayer(swing_constant=1.65)
    rng = np.random.default_rng(7)
    inside = []
    for _ in range(60):
        model = fit_player_model(data_from_putts(simulate_mixed(player, rng, 25)))
        low, high = model.constant.interval(1.645)
        inside.append(low <= 1.65 <= high)
    assert 0.8 <= np.mean(inside) <= 1.0


def test_few_strokes_are_drawn_to_the_textbook() -> None:
    far = SimulatedPlayer(0.0, 0.0, 0.10, 0.0, 0.0, 0.0, swing_constant=2.2)
    putts = simulate_mixed(far, np.random.default_rng(8), 60)
    few, many = (fit_player_model(data_from_putts(putts[:n])) for n in (3, 60))
    assert TEXTBOOK_CONSTANT < few.constant.value < many.constant.value
    assert few.constant.sd > many.constant.sd


def test_a_constant_that_changes_with_length_is_seen_and_used() -> None:
    """c ∝ asked^0.06 and length ∝ asked^(0.5 − 0.06): c ∝ length^(0.06/0.44)."""
    player = SimulatedPlayer(shape_exponent=0.06)
    model = fit_player_model(data_from_putts(simulate_mixed(player, np.random.default_rng(9), 200)))
    assert model.length_exponent.value == pytest.approx(0.06 / 0.44, abs=0.03)
    assert model.constant_at(0.4).value > model.constant_at(0.15).value


def test_making_up_for_a_long_backswing_is_no_change_with_length() -> None:
    """At one length: who swings longer swings slower. The exponent stays the prior's, and wide."""
    rng = np.random.default_rng(16)
    player = SimulatedPlayer(0.08, 0.0, 0.08, 0.0, 0.0, 0.0, correlation={("length", "shape"): -0.99})
    model = fit_player_model(data_from_putts(simulate_putts(player, rng, [Task((5.0,) * 40)])))
    assert model.length_exponent.value == pytest.approx(0.0, abs=1e-6)
    assert model.length_exponent.sd == pytest.approx(0.10, rel=0.01)
    near, far = model.constant_at(model.reference_length_m), model.constant_at(2 * model.reference_length_m)
    assert far.sd > 2 * near.sd


def _models(exponent: float, putts: int, seed: int) -> list[PlayerModel]:
    rng = np.random.default_rng(seed)
    player = SimulatedPlayer(time_exponent=exponent)
    return [fit_player_model(data_from_putts(simulate_mixed(player, rng, putts))) for _ in range(30)]


def test_whether_the_time_changes_with_length_is_told_either_way() -> None:
    """One tour player: 0.30 s at 4 ft, 0.29 s at 32 ft (Mann, second-hand): exponent −0.016, hard to see."""
    same, changing, tour = (
        _models(exponent, 60, 10) for exponent in (0.0, 0.08, math.log(0.29 / 0.30) / math.log(8))
    )
    factors = [[m.time.bayes_factor for m in group if m.time] for group in (same, changing, tour)]
    assert np.mean(np.array(factors[0]) < 1 / 3) > 0.7
    assert np.mean(np.array(factors[0]) > 3) <= 0.1
    assert np.mean(np.array(factors[1]) > 10) > 0.9
    assert 0.01 < np.median(factors[2]) < 10
    assert "longer" in changing[0].time.words  # type: ignore[union-attr]
    one_length = simulate_putts(SimulatedPlayer(), np.random.default_rng(11), [Task((5.0,) * 20)])
    assert fit_player_model(data_from_putts(one_length)).time is None


def test_a_bayes_factor_means_what_it_says() -> None:
    """Players drawn from both hypotheses, half each: of those at 3 and above, at least 3 in 4 do change."""
    rng = np.random.default_rng(12)
    above, changed = 0, 0
    for _ in range(150):
        exponent = 0.1 * rng.standard_normal() if rng.random() < 0.5 else 0.0
        model = fit_player_model(
            data_from_putts(simulate_mixed(SimulatedPlayer(time_exponent=exponent), rng, 20))
        )
        assert model.time is not None
        if model.time.bayes_factor >= 3:
            above += 1
            changed += exponent != 0.0
    assert above > 30
    assert changed / above > 0.85


def _check(model: PlayerModel, name: str) -> str:
    return next(check.text for check in model.checks if check.name == name)


def test_predictive_checks_speak_when_the_model_is_wrong_and_are_silent_otherwise() -> None:
    rng = np.random.default_rng(13)
    quiet = [
        check.text
        for _ in range(40)
        for check in fit_player_model(data_from_putts(simulate_mixed(SimulatedPlayer(), rng, 40))).checks
    ]
    assert sum(bool(text) for text in quiet) <= 4
    putts = simulate_mixed(SimulatedPlayer(), rng, 60)
    mishit = replace(
        putts[9],
        measures={
            **putts[9].measures,
            "impact_speed_m_s": Measure(0.8 * putts[9].value("impact_speed_m_s"), 0.01),
        },
    )
    assert _check(fit_player_model(data_from_putts([*putts[:9], mishit, *putts[10:]])), "mishit")
    drifting = [
        _scaled(putt, "impact_speed_m_s", 1.0 + 0.08 * math.sin(k / 5.0)) for k, putt in enumerate(putts)
    ]
    assert _check(fit_player_model(data_from_putts(drifting)), "order")
    bent = [
        _scaled(putt, "impact_speed_m_s", math.exp(0.4 * math.log(putt.asked_m / 5.0) ** 2)) for putt in putts
    ]
    assert _check(fit_player_model(data_from_putts(bent)), "bend")


def _scaled(putt: Putt, name: str, factor: float) -> Putt:
    old = putt.measures[name]
    return replace(putt, measures={**putt.measures, name: Measure(old.value * factor, old.sd)})


def test_sessions_that_differ_widen_what_is_known_of_the_next() -> None:
    rng = np.random.default_rng(14)
    putts = []
    for k in range(6):
        player = SimulatedPlayer(swing_constant=1.65 * math.exp(0.05 * rng.standard_normal()))
        putts += simulate_putts(player, rng, [Task((3.0, 5.0, 8.0) * 8, session=f"day {k}")])
    model = fit_player_model(data_from_putts(putts))
    assert model.sessions == 6
    assert 0.02 < model.session_spread < 0.1
    one_day = fit_player_model(data_from_putts([replace(p, session="") for p in putts]))
    assert model.constant.sd > 2.0 * one_day.constant.sd
    assert "6 sessions" in model.source


def test_strokes_of_recordings_serve_as_well_and_rehearsals_do_not() -> None:
    putts = simulate_mixed(SimulatedPlayer(), np.random.default_rng(15), 10, noise=MeasurementNoise.none())
    strokes = [Stroke("putt", {}, putt.measures, asked_length_m=putt.asked_m) for putt in putts]
    rehearsals = [Stroke("rehearsal", {}, putts[0].measures)]
    model = fit_player_model(data_from_strokes([*strokes, *rehearsals]))
    assert model.strokes == 10
    assert model.constant.value == pytest.approx(fit_player_model(data_from_putts(putts)).constant.value)


def test_too_few_strokes_are_refused() -> None:
    empty = np.full(2, 0.3)
    data = SwingData(empty, empty, empty, empty, empty, ("", ""), empty)
    with pytest.raises(QualityError, match="3 or more"):
        fit_player_model(data)
