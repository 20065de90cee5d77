"""Two sessions compared: verdict, phases, further changes, remarks, words."""

from __future__ import annotations

import math

import numpy as np
import pytest

from pacewright.coaching import progress_words
from pacewright.coaching.progress import Comparison, SessionPutts, compare_sessions
from pacewright.coaching.session_fit import fit_session, log_errors
from pacewright.coaching.spread_change import verdict_now
from pacewright.core.errors import QualityError
from pacewright.core.measure import Measure
from pacewright.core.outcome import Outcome, Putt


def _session(
    seed: int,
    putts: int,
    spread: float,
    *,
    bias: float = 0.0,
    lengths: tuple[float, ...] = (3.0, 6.0, 9.0),
    phase: tuple[str, ...] = (),
    **measures: np.ndarray,
) -> SessionPutts:
    asked = np.resize(np.array(lengths), putts)
    errors = bias + spread * np.random.default_rng(seed).normal(size=putts)
    return SessionPutts(asked, asked * np.exp(errors), measures, phase)


def _said(found: Comparison) -> str:
    return " ".join([progress_words.statement(found), *progress_words.explanation(found)])


def test_a_clear_change_is_called_by_its_name() -> None:
    found = compare_sessions(_session(1, 60, 0.12), _session(2, 60, 0.05))
    assert found.spread.verdict == "better"
    assert "Better" in _said(found)
    assert "another day" in _said(found)
    turned = compare_sessions(_session(2, 60, 0.05), _session(1, 60, 0.12))
    assert turned.spread.verdict == "worse"


def test_a_bias_is_no_spread() -> None:
    found = compare_sessions(_session(1, 40, 0.08, bias=-0.2), _session(1, 40, 0.08))
    assert found.spread.verdict == "unclear"
    assert found.spread.ratio.value == pytest.approx(1.0, abs=1e-3)
    (mean,) = (change for change in found.changes if change.name == "mean_error_share")
    assert mean.is_clear
    assert mean.span.value == pytest.approx(0.2, abs=1e-3)


def test_players_who_did_not_change_are_rarely_called_better_under_peeking() -> None:
    """A small seeded run of validation/progress.py: 60 players, a look after every third putt to 200."""
    better = 0
    for seed in range(60):
        before, after = (_session(2 * seed + k, 200, 0.1) for k in range(2))
        errors = [log_errors(one.asked_m, one.finish_along_m) for one in (before, after)]
        for putts in range(6, 201, 3):
            fits = [fit_session(before.asked_m[:putts], error[:putts]) for error in errors]
            if verdict_now(*fits) == "better":
                better += 1
                break
    assert better <= 0.05 * 60 + 1


def test_the_verdict_is_the_one_that_peeking_is_judged_by() -> None:
    for seed in range(6):
        found = compare_sessions(_session(seed, 40, 0.1), _session(seed + 50, 40, 0.05))
        assert found.spread.verdict == verdict_now(found.before.fit, found.after.fit)


def test_what_lasted_decides_and_phases_stay_apart() -> None:
    phase = ("learning",) * 40 + ("retention",) * 40
    learning, retention = _session(3, 40, 0.03), _session(4, 40, 0.1)
    after = SessionPutts(
        np.concatenate([learning.asked_m, retention.asked_m]),
        np.concatenate([learning.finish_along_m, retention.finish_along_m]),
        phase=phase,
    )
    found = compare_sessions(_session(5, 40, 0.1), after)
    assert found.phase == "retention"
    assert found.spread.verdict == "unclear"
    assert found.phases["learning"].verdict == "better"
    assert "what lasted" in _said(found)
    assert "Learning: better" in progress_words.phase_sentence("learning", found.phases["learning"])


def test_the_further_phases_are_corrected_for_their_number() -> None:
    """The weaker of two has to be twice as sure as alone."""
    phase = ("retention",) * 30 + ("transfer",) * 30 + ("learning",) * 30
    after = _session(6, 90, 0.1, phase=phase)
    found = compare_sessions(_session(7, 30, 0.12), after)
    alone = compare_sessions(_session(7, 30, 0.12), after.of_phase("learning") or after)
    assert found.phases["learning"].chance_better >= alone.spread.chance_better


def test_timing_changes_are_reported_with_their_intervals() -> None:
    rng = np.random.default_rng(8)
    down = 0.30 + 0.004 * rng.normal(size=40)
    slow = 0.36 + 0.004 * rng.normal(size=40) + 0.001 * np.arange(40)
    found = compare_sessions(
        _session(9, 40, 0.1, downswing_time_s=down), _session(10, 40, 0.1, downswing_time_s=slow)
    )
    by_name = {change.name: change for change in found.changes}
    mean = by_name["downswing_time_s_mean"]
    assert mean.is_clear
    assert mean.span.low < math.log(0.38 / 0.30) < mean.span.high
    drift = by_name["downswing_time_s_drift_per_ten_putts"]
    assert drift.is_clear
    assert drift.span.value == pytest.approx(0.01 / 0.38, abs=0.006)


def test_many_comparisons_do_not_manufacture_success() -> None:
    """Eight figures that did not change: something is called clear in fewer than one session in ten."""
    called = 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        sessions = [
            _session(
                1000 + 2 * seed + k, 25, 0.1,
                downswing_time_s=np.exp(0.05 * rng.normal(size=25)),
                backswing_time_s=np.exp(0.05 * rng.normal(size=25)),
                time_ratio=np.exp(0.05 * rng.normal(size=25)),
            )
            for k in range(2)
        ]  # fmt: skip
        called += any(change.is_clear for change in compare_sessions(*sessions).changes)
    assert called <= 4


def test_other_lengths_are_pointed_out() -> None:
    found = compare_sessions(_session(1, 20, 0.1), _session(2, 20, 0.1, lengths=(1.0, 2.0)))
    assert [remark.code for remark in found.remarks] == ["lengths-differ"]


def test_a_warm_up_is_told() -> None:
    plain = _session(3, 40, 0.03)
    warm = SessionPutts(plain.asked_m, plain.finish_along_m * np.exp(0.3 * 0.5 ** (np.arange(40) / 3)))
    found = compare_sessions(warm, _session(4, 40, 0.03))
    (remark,) = found.remarks
    assert remark.code == "order-before"
    assert "first putts ran about" in remark.text
    assert found.spread.verdict == "unclear"


def test_short_sessions_are_refused_by_name() -> None:
    with pytest.raises(QualityError, match="session after has 2 putts"):
        compare_sessions(_session(1, 20, 0.1), _session(2, 2, 0.1))


def test_few_putts_are_told_to_be_few() -> None:
    said = _said(compare_sessions(_session(1, 4, 0.1), _session(2, 4, 0.1)))
    assert "too few" in said
    assert "no change can be told from luck" in said


@pytest.mark.parametrize("putts", [6, 12, 30, 80])
@pytest.mark.parametrize("spread", [0.03, 0.09, 0.2])
def test_sentences_claim_nothing_beyond_the_verdict(putts: int, spread: float) -> None:
    found = compare_sessions(_session(putts, putts, 0.1), _session(putts + 1, putts, spread))
    said = _said(found)
    assert ("Better:" in said) == (found.spread.verdict == "better")
    assert ("Worse:" in said) == (found.spread.verdict == "worse")
    assert ("No clear change" in said) == (found.spread.verdict == "unclear")
    assert "nan" not in said
    assert "inf" not in said


def test_putts_become_a_session_with_their_ratio_and_phase() -> None:
    measures = {"backswing_time_s": Measure(0.6, 0.01), "downswing_time_s": Measure(0.3, 0.01)}
    putts = [
        Putt(3.0, Outcome(3.2), phase="learning", measures=measures),
        Putt(3.0, Outcome(holed=True), block="Retention"),
        Putt(6.0, Outcome(5.5), block="7"),
    ]
    session = SessionPutts.of(putts)
    assert session.phase == ("learning", "retention", "")
    assert session.measures["time_ratio"][0] == pytest.approx(2.0)
    assert math.isnan(session.measures["time_ratio"][2])
    assert math.isnan(session.finish_along_m[1])
