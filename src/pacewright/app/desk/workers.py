"""Worker processes that do the jobs, and the watch over them."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from multiprocessing.process import BaseProcess
from pathlib import Path
from uuid import UUID, uuid4

from sqlalchemy.exc import SQLAlchemyError
from sqlalchemy.orm import Session as Transaction

from pacewright.app.desk import jobs
from pacewright.app.desk.analysis import assess_recording_row, write_analysis
from pacewright.app.desk.context import Context
from pacewright.app.desk.correcting import with_earlier_corrections
from pacewright.app.desk.hearing import hear, sound_of, write_heard
from pacewright.app.desk.measured import HandOver
from pacewright.app.desk.story import Story
from pacewright.core.errors import PacewrightError, SettingsError
from pacewright.records.engine import Database
from pacewright.records.files import FileStore
from pacewright.records.schema import Job
from pacewright.records.schema.base import now

Write = Callable[[Transaction], UUID | None]
"""Writes what came of a job; returns the id of the result where there is one."""
POLL_S = 0.1
WATCH_S = 0.5


class Workers:
    """Some worker processes. `start` queues again what an earlier run left unfinished."""

    def __init__(
        self, context: Context, count: int = 1, *, stuck_after_s: float = jobs.STUCK_AFTER_S
    ) -> None:
        self._context = context
        self._count = count
        self._stuck_after_s = stuck_after_s
        self._processes: dict[str, BaseProcess] = {}
        self._ended = threading.Event()
        self._watch: threading.Thread | None = None

    def start(self) -> None:
        """Start the processes and the watch over them."""
        jobs.recover(self._context, lost_workers=_dead_here(self._context))
        for _ in range(self._count):
            self._spawn()
        self._watch = threading.Thread(target=self._watching, name="watch over workers", daemon=True)
        self._watch.start()

    def stop(self) -> None:
        """End the processes; jobs that were running are queued again."""
        self._ended.set()
        if self._watch is not None:
            self._watch.join()
        for process in self._processes.values():
            process.terminate()
        for process in self._processes.values():
            process.join(5.0)
            if process.is_alive():
                process.kill()
                process.join()
        if self._processes:
            jobs.recover(self._context, lost_workers=frozenset(self._processes))
        self._processes.clear()

    def pids(self) -> tuple[int, ...]:
        """The process ids of the workers."""
        return tuple(process.pid for process in self._processes.values() if process.pid is not None)

    def _spawn(self) -> None:
        name = f"{_host()}:{uuid4().hex[:12]}"
        process = multiprocessing.get_context("spawn").Process(
            target=_work,
            args=(
                name,
                self._context.database.url,
                str(self._context.data_dir),
            ),
            name="pacewright worker",
            daemon=True,
        )
        process.start()
        self._processes[name] = process

    def _watching(self) -> None:
        while not self._ended.wait(WATCH_S):
            with contextlib.suppress(SQLAlchemyError):
                self._look()

    def _look(self) -> None:
        for worker, _ in jobs.stuck(self._context, after_s=self._stuck_after_s):
            if worker in self._processes:
                self._processes[worker].kill()
                self._processes[worker].join()
        dead = [name for name, process in self._processes.items() if not process.is_alive()]
        if dead:
            jobs.recover(self._context, lost_workers=frozenset(dead))
        for name in dead:
            del self._processes[name]
            self._spawn()


def work_once(context: Context, worker: str = "here") -> UUID | None:
    """Do the oldest waiting job in this process; its id, or None when none waits."""
    job = jobs.claim(context, worker, os.getpid())
    if job is None:
        return None
    with _Heart(context, job.id, worker) as heart:
        _do(context, job, worker, heart)
    return job.id


class _GivenUpError(Exception):
    """The job was cancelled, or somebody else has it now."""


class _Heart:
    """Says every second that the job lives, and notices when it is to be given up."""

    def __init__(self, context: Context, job_id: UUID, worker: str) -> None:
        self._context, self._job_id, self._worker = context, job_id, worker
        self._progress = 0.0
        self._given_up = threading.Event()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._beating, name="heartbeat", daemon=True)

    def __enter__(self) -> _Heart:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()

    def progress(self, share: float) -> None:
        """How far the job is; raises when it is to be given up."""
        self._progress = share
        if self._given_up.is_set():
            raise _GivenUpError

    def _beating(self) -> None:
        while not self._ended.wait(jobs.HEARTBEAT_S):
            # A database that is busy for a moment is no reason to stop.
            with contextlib.suppress(SQLAlchemyError):
                if not jobs.beat(self._context, self._job_id, self._worker, self._progress):
                    self._given_up.set()
                    return


def _do(context: Context, job: Job, worker: str, heart: _Heart) -> None:
    """Do a job, and write what comes of it in the transaction that ends it: all of it or nothing."""
    try:
        with _done(context, job, heart) as write, context.database.write() as transaction:
            row = jobs.is_ours(transaction, job.id, worker)
            if row is None or row.cancel_asked:
                raise _GivenUpError
            row.result_id = write(transaction)
            row.state, row.progress, row.ended_at = "done", 1.0, now()
            jobs.forget_measured(transaction, job.id)
    except _GivenUpError:
        jobs.end(context, job.id, worker, "cancelled")
    except PacewrightError as error:
        jobs.end(context, job.id, worker, "failed", str(error))
    except Exception as error:
        jobs.end(
            context,
            job.id,
            worker,
            "failed",
            f"The work broke off ({type(error).__name__}); this is a defect of Pacewright.",
        )
        raise


@contextmanager
def _done(context: Context, job: Job, heart: _Heart) -> Iterator[Write]:
    """Do the work of a job; what is yielded writes it, and returns the id of the result."""
    if job.kind == jobs.ANALYSE and job.recording_id is not None:
        yield _analysed(context, job, job.recording_id, heart)
    elif job.kind == jobs.FIGURES and job.player_id is not None:
        Story(context).figures(job.player_id)
        yield lambda _: None
    elif job.kind == jobs.DEMO_CLUB:
        from pacewright.app.desk.demo_club import club_beside

        with club_beside(context, heart.progress) as bring_in:
            yield bring_in
    else:
        raise SettingsError(f"This version of Pacewright has no job '{job.kind}'.")


def _analysed(context: Context, job: Job, recording_id: UUID, heart: _Heart) -> Write:
    """Analyse a recording, by ear where it is sound; what is returned writes the analysis."""
    sound = sound_of(context, recording_id)
    if sound is not None:
        heard = hear(context, sound)
        return lambda transaction: write_heard(transaction, recording_id, heard).id
    wanted, found = assess_recording_row(context, recording_id, heart.progress, HandOver(context, job))
    assessment, settings = with_earlier_corrections(context, wanted, found)
    return lambda transaction: write_analysis(transaction, wanted, assessment, settings=settings).id


def _work(name: str, url: str, data_dir: str) -> None:
    """What a worker process does until its parent goes away or tells it to end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, lambda *_: os._exit(0))
    parent = os.getppid()
    folder = Path(data_dir)
    context = Context(Database(url, folder), FileStore(folder), folder)
    warm_ups = [_warm_up, _warm_up_for_clips]
    while os.getppid() == parent:
        try:
            did = work_once(context, name)
        except Exception:
            # The job says what happened; the next one may go well.
            did = None
        if did is None and warm_ups:
            warm_ups.pop(0)()
        elif did is None:
            time.sleep(POLL_S)


def _warm_up() -> None:
    """Import what the first job would import, so that it does not wait for it."""
    import pacewright.app.report
    import pacewright.readers.inertial
    import pacewright.stroke.analyse  # noqa: F401


def _warm_up_for_clips() -> None:
    """As `_warm_up`, for the first clip: it takes longer, and a table that came meanwhile goes first."""
    import av  # noqa: F401
    import cv2  # noqa: F401

    import pacewright.app.clip_sound
    import pacewright.tracking.record  # noqa: F401


def _host() -> str:
    return socket.gethostname()


def _dead_here(context: Context) -> frozenset[str]:
    """Workers of this machine that hold a job and whose process is gone."""
    dead = set()
    from sqlalchemy import select

    with context.database.read() as transaction:
        held = transaction.execute(select(Job.worker, Job.worker_pid).where(Job.state == "running")).all()
    for worker, pid in held:
        if worker is not None and worker.partition(":")[0] == _host() and not _is_alive(pid):
            dead.add(worker)
    return frozenset(dead)


def _is_alive(pid: int | None) -> bool:
    if pid is None:
        return False
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True
