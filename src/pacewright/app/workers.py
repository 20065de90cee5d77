"""Many tasks on processes of their own: one that dies, hangs or eats memory costs its task and no other."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from typing import Any, Literal

_LOOK_EVERY_S = 0.5
_LAST_WORDS_S = 5.0
_SINGLE = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS")


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a task. ``done``: ``value`` is the answer. ``raised``: ``value`` says which exception.
    ``died``: the process ended, ``value`` says how. ``late``: it was ended, because it took too long.
    """

    kind: Literal["done", "raised", "died", "late"]
    value: Any


@dataclass(slots=True)
class _Worker:
    process: Any
    line: Connection
    task: int | None = None
    since: float = 0.0


def run_each(
    function: Callable[[Any], Any],
    tasks: Sequence[Any],
    *,
    workers: int | None = None,
    limit_s: float | None = None,
    memory_bytes: int | None = None,
) -> Iterator[tuple[int, Outcome]]:
    """Number of the task and what became of it, in the order in which they end.

    ``function`` (of a module) and ``tasks`` are pickled. Processes are spawned, not forked: libraries with
    threads of their own do not survive a fork. ``workers`` defaults to the number of cores; ``limit_s`` is
    for each task, ``memory_bytes`` of address space for each process (where the system knows such limits).
    When the caller stops, by an exception or Ctrl-C too, every process is ended.
    """
    waiting = list(range(len(tasks) - 1, -1, -1))
    crew: list[_Worker] = []
    try:
        with _one_thread_each():
            crew += [_start(function, memory_bytes) for _ in range(min(workers or cores(), len(tasks)))]
        while waiting or any(worker.task is not None for worker in crew):
            for worker in crew:
                if worker.task is None and waiting:
                    worker.task, worker.since = waiting.pop(), time.monotonic()
                    worker.line.send(tasks[worker.task])
            for worker in _ended(crew, limit_s):
                task, outcome = worker.task, _outcome(worker, limit_s)
                if outcome.kind in ("died", "late"):
                    with _one_thread_each():
                        crew[crew.index(worker)] = _start(function, memory_bytes)
                worker.task = None
                if task is not None:
                    yield task, outcome
    finally:
        for worker in crew:
            worker.process.kill()
        for worker in crew:
            worker.process.join()
            worker.line.close()


def cores() -> int:
    """Cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:
        return os.cpu_count() or 1


@contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes started inside do their numerics on one thread each: the cores are taken by their number."""
    before = {name: os.environ.get(name) for name in _SINGLE}
    os.environ.update(dict.fromkeys(_SINGLE, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _start(function: Callable[[Any], Any], memory_bytes: int | None) -> _Worker:
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(theirs, function, memory_bytes), daemon=True)
    process.start()
    theirs.close()
    return _Worker(process, ours)


def _ended(crew: list[_Worker], limit_s: float | None) -> list[_Worker]:
    """Workers with something to tell: an answer, their death, or that their time is over."""
    busy = [worker for worker in crew if worker.task is not None]
    ready = set(wait([worker.line for worker in busy], _LOOK_EVERY_S))
    now = time.monotonic()
    return [
        worker
        for worker in busy
        if worker.line in ready or (limit_s is not None and now - worker.since > limit_s)
    ]


def _outcome(worker: _Worker, limit_s: float | None) -> Outcome:
    """Take a worker's answer, or end it and say why there is none."""
    if not worker.line.poll():
        worker.process.kill()
        worker.process.join()
        worker.line.close()
        return Outcome("late", f"took longer than {limit_s:g} s")
    try:
        kind, value = worker.line.recv()
    except (EOFError, OSError):
        worker.process.join(_LAST_WORDS_S)
        code = worker.process.exitcode
        worker.line.close()
        return Outcome("died", f"signal {-code}" if code is not None and code < 0 else f"exit code {code}")
    return Outcome(kind, value)


def _serve(line: Connection, function: Callable[[Any], Any], memory_bytes: int | None) -> None:
    """The life of a worker: answer task after task until the other end is gone."""
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the caller ends us
    if memory_bytes is not None:
        import resource

        resource.setrlimit(resource.RLIMIT_AS, (memory_bytes, memory_bytes))
    while True:
        try:
            task = line.recv()
        except (EOFError, OSError):
            return
        try:
            answer = ("done", function(task))
        except Exception as error:
            answer = ("raised", f"{type(error).__name__}: {error}")
        try:
            line.send(answer)
        except (BrokenPipeError, ConnectionResetError):
            return
