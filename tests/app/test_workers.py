"""Processes that answer, raise, die and hang; each costs its own task alone."""

from __future__ import annotations

import os
import signal
import time

import pytest

from pacewright.app.workers import run_each


def odd_jobs(task: str) -> str:
    """What a worker is asked to do in these tests."""
    if task == "raise":
        raise ValueError("no good")
    if task == "die":
        os.kill(os.getpid(), signal.SIGSEGV)
    if task == "leave":
        os._exit(7)
    if task == "hang":
        time.sleep(60)
    if task == "eat":
        return str(len(bytearray(1 << 31)))
    return task.upper()


def test_one_that_goes_wrong_costs_no_other() -> None:
    tasks = ["a", "raise", "die", "b", "leave", "hang", "c"]
    found = {tasks[k]: (o.kind, o.value) for k, o in run_each(odd_jobs, tasks, workers=2, limit_s=4.0)}
    assert {task: found[task] for task in "abc"} == {t: ("done", t.upper()) for t in "abc"}
    assert found["raise"] == ("raised", "ValueError: no good")
    assert found["die"] == ("died", "signal 11")
    assert found["leave"] == ("died", "exit code 7")
    assert found["hang"] == ("late", "took longer than 4 s")


def test_memory_has_a_limit() -> None:
    ((_, outcome),) = run_each(odd_jobs, ["eat"], workers=1, memory_bytes=1 << 30)
    assert outcome.kind == "raised"
    assert "MemoryError" in outcome.value


def test_no_process_is_left_when_the_caller_stops() -> None:
    outcomes = run_each(odd_jobs, ["a", "hang"], workers=2)
    assert next(outcomes)[1].value == "A"
    started = time.monotonic()
    outcomes.close()
    assert time.monotonic() - started < 20.0
    import multiprocessing

    assert multiprocessing.active_children() == []


def test_nothing_to_do() -> None:
    assert list(run_each(odd_jobs, [])) == []


@pytest.fixture(autouse=True)
def _environment_is_left_as_it_was() -> None:
    before = dict(os.environ)
    yield
    changed = {k for k in os.environ if k.endswith("_NUM_THREADS") and before.get(k) != os.environ[k]}
    assert not changed
