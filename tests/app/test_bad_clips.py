"""A few mutated clips; `python -m validation.fuzz_clips` runs thousands."""

from __future__ import annotations

from pacewright.app.workers import Outcome
from validation.fuzz_clips import SEEDS, failures, mutants, run, verdict


def test_bad_clips_end_in_an_assessment_or_a_clear_message() -> None:
    found = run(40, first=40)
    assert failures(found) == []
    assert len({mutant.how for mutant, _, _ in found}) == 8
    assert {mutant.seed for mutant, _, _ in found} == SEEDS.keys()
    assert {word for _, word, _ in found} >= {"refused", "stroke found"}


def test_a_number_alone_decides_what_a_mutant_is() -> None:
    seeds = {name: bytes(range(256)) * 8 for name in SEEDS}
    (alone,) = mutants(seeds, 1, first=17)
    assert [*mutants(seeds, 20)][17] == alone


def test_what_counts_as_a_failure() -> None:
    def word(kind: str, value: object) -> str:
        return verdict(Outcome(kind, value), "a.mp4")[0]  # type: ignore[arg-type]

    assert word("died", "signal 11") == "crash"
    assert word("late", "took longer than 20 s") == "hang"
    assert word("raised", "KeyError: 1") == "other exception"
    assert word("done", ("assessed", "1")) == "stroke found"
    assert word("done", ("refused", "a.mp4: the clip holds no picture. Copy it again.")) == "refused"
    assert word("done", ("refused", "the clip holds no picture. Copy it again.")) == "unclear message"
    assert word("done", ("refused", "a.mp4: [Errno 22] cannot be read, sorry.")) == "unclear message"
