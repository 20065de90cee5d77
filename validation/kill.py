"""Kill -9 at random points: whatever was acknowledged is there afterwards, and nothing is there by halves.

A child process works at a desk and says over a pipe what was acknowledged to it. The parent ends it with
SIGKILL at a random point, opens the desk again as a server would, and looks. `python -m validation.kill` does
so 200 times and rewrites `docs/validation-durability.md`; the tests do it a few times.
"""

from __future__ import annotations

import contextlib
import hashlib
import itertools
import json
import os
import select
import signal
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from uuid import UUID

import numpy as np
from sqlalchemy import func, text
from sqlalchemy import select as query

from pacewright.app.desk import jobs, measured
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.putts import NewPutt
from pacewright.core.outcome import Outcome
from pacewright.records.engine import Database
from pacewright.records.migrate import revisions, upgrade
from pacewright.records.schema import Analysis, Job, Player, Stroke
from tests.databases import empty_url, fresh_url

PIECE = 20_000
STROKES = 30
Say = Callable[..., None]
Work = Callable[[Path, str | None, Say], None]


@dataclass
class Tally:
    """What came of the kills of one scenario."""

    length_s: float = 0.0
    kills: int = 0
    before_any: int = 0
    """Kills before the first acknowledgement."""
    acknowledged: int = 0
    lost: list[str] = field(default_factory=list)
    halves: list[str] = field(default_factory=list)


def recording_bytes(number: int) -> bytes:
    """A table of strokes timed by hand, another for each number, of some 100 kB."""
    rng = np.random.default_rng(number)
    head = ["takeaway_s,top_s,impact_s,finish_s,note"]
    for k in range(STROKES):
        back, down = rng.normal(0.7, 0.03), rng.normal(0.33, 0.02)
        start = 10.0 * k
        note = rng.bytes(1500).hex()
        head.append(
            f"{start:.3f},{start + back:.3f},{start + back + down:.3f},{start + back + down + 0.5:.3f},{note}"
        )
    return "\n".join(head).encode() + b"\n"


def putts(first: int) -> list[NewPutt]:
    """Three putts that only make sense together."""
    return [NewPutt(3.0, Outcome(3.1), client_id=f"k{first}-{j}") for j in range(3)]


def prepare(desk: Desk) -> UUID:
    """A player with a session; returns the session."""
    player = desk.players.create("Ida Morwenna", birth_year=1980)
    desk.consents.give(player.id, "recording", "player")
    return desk.sessions.create(player.id).id


def uploading(folder: Path, url: str | None, say: Say) -> None:
    """Send files in pieces, and enter putts in between."""
    desk = Desk.open(folder, url)
    (session,) = desk.sessions.list().items
    for k in itertools.count():
        data = recording_bytes(k)
        upload = desk.uploads.begin(session.id, f"{k}.csv", len(data))
        say("begun", str(upload.id), k)
        for place in range(0, len(data), PIECE):
            received = desk.uploads.append(upload.id, place, data[place : place + PIECE]).received
            say("piece", str(upload.id), received)
        desk.putts.add(session.id, putts(k))
        say("putts", k)
        desk.uploads.finish(upload.id)
        say("kept", str(upload.id))


def analysing(folder: Path, url: str | None, say: Say) -> None:
    """Do the jobs that wait, each stroke written as it is measured."""
    measured.HAND_OVER_S = 0.0
    desk = Desk.open(folder, url)
    while (job_id := desk.work_once()) is not None:
        say("done", str(job_id))


def migrating(folder: Path, url: str | None, say: Say) -> None:
    """Open a desk of an older revision."""
    Desk.open(folder, url)
    say("open")


def backing_up(folder: Path, url: str | None, say: Say) -> None:
    """Make backups, and enter putts in between."""
    desk = Desk.open(folder, url)
    (session,) = desk.sessions.list().items
    for k in itertools.count():
        say("backup", desk.backups.make().name)
        desk.putts.add(session.id, putts(k))
        say("putts", k)


def restoring(folder: Path, url: str | None, say: Say) -> None:
    """Go back to one of two backups, by turns."""
    from pacewright.records.backup import restore_backup

    desk = Desk.open(folder, url)
    context = desk._context
    for k in itertools.count():
        restore_backup(context.database, context.files, folder / f"{'ab'[k % 2]}.zip")
        say("restored", k % 2)


def check_uploads(desk: Desk, said: list[list[object]], tally: Tally) -> None:
    """Every piece and putt that was acknowledged is there; every upload can go on and becomes its file."""
    (session,) = desk.sessions.list().items
    numbers = {str(one[1]): int(str(one[2])) for one in said if one[0] == "begun"}
    received = {str(one[1]): int(str(one[2])) for one in said if one[0] == "piece"}
    kept = {str(one.id) for one in desk.recordings.of_session(session.id)}
    for identifier, number in numbers.items():
        data = recording_bytes(number)
        if identifier not in kept:
            going_on = desk.uploads.get(UUID(identifier))
            if going_on.received < received.get(identifier, 0):
                tally.lost.append(f"piece of {identifier}")
            for place in range(going_on.received, len(data), PIECE):
                desk.uploads.append(UUID(identifier), place, data[place : place + PIECE])
            desk.uploads.finish(UUID(identifier))
        if ["kept", identifier] in said and identifier not in kept:
            tally.lost.append(f"recording {identifier}")
        if (
            hashlib.sha256(desk.recordings.path(UUID(identifier)).read_bytes()).digest()
            != hashlib.sha256(data).digest()
        ):
            tally.lost.append(f"content of {identifier}")
    _check_putts(desk, session.id, said, tally)
    waiting = len(desk.jobs.open())
    if waiting != len(desk.recordings.of_session(session.id)):
        tally.halves.append("a recording without its job")


def _check_putts(desk: Desk, session_id: UUID, said: list[list[object]], tally: Tally) -> None:
    there: set[str] = set()
    after = None
    while True:
        page = desk.putts.list(session_id=session_id, after=after, limit=500)
        there |= {str(putt.client_id) for putt in page.items}
        after = page.next
        if after is None:
            break
    groups = {name.split("-")[0] for name in there}
    tally.lost += [f"putts {one[1]}" for one in said if one[0] == "putts" and f"k{one[1]}" not in groups]
    tally.halves += [f"putts {name}" for name in groups if not {f"{name}-{j}" for j in range(3)} <= there]


def check_analyses(desk: Desk, said: list[list[object]], tally: Tally) -> None:
    """A job that is done has its whole analysis, one that is not has none; what is left is done on
    restart."""
    context = desk._context
    for one in said:
        if desk.jobs.get(UUID(str(one[1]))).state != "done":
            tally.lost.append(f"job {one[1]}")
    _whole_analyses(desk, tally)
    jobs.recover(context, silent_s=-1.0)
    while desk.work_once() is not None:
        pass
    _whole_analyses(desk, tally)
    (session,) = desk.sessions.list().items
    if desk.jobs.measured(session.id):
        tally.halves.append("strokes of a job that has ended")
    for recording in desk.recordings.of_session(session.id):
        if recording.strokes != STROKES or len(desk.strokes.analyses(recording.id)) != 1:
            tally.halves.append(f"recording {recording.id} has {recording.strokes} strokes")


def _whole_analyses(desk: Desk, tally: Tally) -> None:
    with desk._context.read() as transaction:
        found = transaction.execute(query(Stroke.analysis_id, func.count()).group_by(Stroke.analysis_id))
        counts = {row[0]: row[1] for row in found}
        analyses = set(transaction.scalars(query(Analysis.id)))
        done = set(transaction.scalars(query(Job.result_id).where(Job.state == "done")))
    tally.halves += [f"analysis {one}" for one in analyses if counts.get(one) != STROKES]
    if analyses != done or set(counts) != analyses:
        tally.halves.append("an analysis without its job, or a job without its analysis")


def check_migrated(desk: Desk, _said: list[list[object]], tally: Tally) -> None:
    """The player that was there before is there."""
    if [line.name for line in desk.players.list().items] != ["Ida Morwenna"]:
        tally.lost.append("the player")


def check_backups(desk: Desk, said: list[list[object]], tally: Tally) -> None:
    """Every backup that was acknowledged is whole; a file that is not whole has not got its name."""
    (session,) = desk.sessions.list().items
    for path in desk.backups.folder.glob("*.zip"):
        try:
            desk.backups.check(path)
        except Exception as error:
            tally.halves.append(f"{path.name}: {error}")
    names = {path.name for path in desk.backups.folder.glob("*.zip")}
    tally.lost += [str(one[1]) for one in said if one[0] == "backup" and one[1] not in names]
    _check_putts(desk, session.id, said, tally)


def check_restored(desk: Desk, _said: list[list[object]], tally: Tally) -> None:
    """The desk is as one of the two backups has it, and nothing between."""
    (session,) = desk.sessions.list().items
    if session.putts not in (3, 30):
        tally.halves.append(f"{session.putts} putts")


def _with_jobs(folder: Path, url: str | None) -> None:
    import io

    with Desk.open(folder, url) as desk:
        session_id = prepare(desk)
        for k in range(6):
            desk.recordings.add(session_id, f"{k}.csv", io.BytesIO(recording_bytes(k)))


def _with_session(folder: Path, url: str | None) -> None:
    with Desk.open(folder, url) as desk:
        prepare(desk)


def _with_backups(folder: Path, url: str | None) -> None:
    with Desk.open(folder, url) as desk:
        session_id = prepare(desk)
        desk.putts.add(session_id, putts(0))
        desk.backups.make(folder / "a.zip")
        for k in range(1, 10):
            desk.putts.add(session_id, putts(k))
        desk.backups.make(folder / "b.zip")


def _older(folder: Path, url: str | None) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    database = Database(url, folder)
    number = folder.name.rpartition("-")[2]
    at = revisions()[int(number) % (len(revisions()) - 1) if number.isdigit() else 0]
    upgrade(database, at)
    with database.write() as transaction:
        transaction.add(Player(name="Ida Morwenna", sort_name="ida morwenna"))
    database.close()


@dataclass(frozen=True, slots=True)
class Scenario:
    """What is there before, what the child does, what must be so afterwards, and where a whole run of it
    ends: when the child has said ``until`` so many times (None: when it has ended)."""

    before: Callable[[Path, str | None], None]
    work: Work
    check: Callable[[Desk, list[list[object]], Tally], None]
    until: tuple[str, int] | None = None
    usual_s: float = 1.0
    """How long a whole run takes or so, for tests that do not measure it."""


SCENARIOS = {
    "upload": Scenario(_with_session, uploading, check_uploads, ("kept", 3)),
    "analysis": Scenario(_with_jobs, analysing, check_analyses),
    "migration": Scenario(_older, migrating, check_migrated, usual_s=0.3),
    "backup": Scenario(_with_session, backing_up, check_backups, ("backup", 4), usual_s=0.8),
    "restore": Scenario(_with_backups, restoring, check_restored, ("restored", 2)),
}


def length_s(scenario: str, kind: str, folder: Path) -> float:
    """How long a whole run takes here and now (s): the random points are spread over that."""
    told = SCENARIOS[scenario]
    url = empty_url(kind) if scenario == "migration" else fresh_url(kind, folder)
    told.before(folder, url)
    began = time.monotonic()
    _run_and_kill(told.work, folder, url, 60.0, told.until)
    return time.monotonic() - began


def kill_once(scenario: str, kind: str, folder: Path, wait_s: float, tally: Tally) -> None:
    """Do a scenario, kill it after ``wait_s``, and look."""
    told = SCENARIOS[scenario]
    url = empty_url(kind) if scenario == "migration" else fresh_url(kind, folder)
    told.before(folder, url)
    said = _run_and_kill(told.work, folder, url, wait_s)
    tally.kills += 1
    tally.before_any += not said
    tally.acknowledged += len(said)
    with Desk.open(folder, url) as desk:
        desk.tidy()
        told.check(desk, said, tally)
        left = [path.name for path in folder.rglob("*.tmp")]
        tally.halves += [f"left behind: {name}" for name in left]
        if kind == "sqlite":
            with desk._context.read() as transaction:
                if transaction.scalar(text("PRAGMA integrity_check")) != "ok":
                    tally.halves.append("integrity check of the database")


def _run_and_kill(
    work: Work, folder: Path, url: str | None, wait_s: float, until: tuple[str, int] | None = None
) -> list[list[object]]:
    """What the child was told before it was killed: after ``wait_s``, or once it said ``until``."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)

        def say(*what: object) -> None:
            os.write(writing, json.dumps(what).encode() + b"\n")

        # The child must never come back into the caller's code.
        with contextlib.suppress(BaseException):
            work(folder, url, say)
        os._exit(0)
    os.close(writing)
    said = b""
    for part in _read_until(reading, time.monotonic() + wait_s):
        said += part
        if until is not None and said.count(f'["{until[0]}"'.encode()) >= until[1]:
            break
    os.kill(child, signal.SIGKILL)
    said += b"".join(_read_until(reading, time.monotonic() + 5.0))
    os.waitpid(child, 0)
    os.close(reading)
    return [json.loads(line) for line in said.splitlines()]


def _read_until(pipe: int, limit: float) -> Iterator[bytes]:
    while (left := limit - time.monotonic()) > 0:
        if select.select([pipe], [], [], left)[0]:
            data = os.read(pipe, 1 << 16)
            if not data:
                return
            yield data


def kill_many(
    scenario: str, kind: str, kills: int, folder: Path, seed: int = 1, whole_s: float | None = None
) -> Tally:
    """Kill a scenario at ``kills`` random points spread evenly over a whole run, whose length is measured
    first unless it is given."""
    rng = np.random.default_rng([seed, len(scenario), len(kind)])
    tally = Tally()
    tally.length_s = length_s(scenario, kind, folder / "whole") if whole_s is None else whole_s
    for k in range(kills):
        # One point in each part of the run: by chance alone they would crowd here and be missing there.
        wait_s = tally.length_s * (k + float(rng.uniform())) / kills
        kill_once(scenario, kind, folder / f"{scenario}-{kind}-{k}", wait_s, tally)
    return tally


def main(kills: int = 200) -> None:
    """Kill that many times, shared by scenarios and databases, and rewrite the page."""
    rows = []
    for kind in ("sqlite", "postgresql"):
        for scenario in SCENARIOS:
            with tempfile.TemporaryDirectory() as folder:
                tally = kill_many(scenario, kind, kills // (2 * len(SCENARIOS)), Path(folder))
            rows.append((scenario, kind, tally))
            print(scenario, kind, tally, flush=True)
    name = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
    table = "\n".join(
        f"| {scenario} | {name[kind]} | {t.length_s:.2f} | {t.kills} | {t.before_any} | {t.acknowledged} "
        f"| {len(t.lost)} | {len(t.halves)} |"
        for scenario, kind, t in rows
    )
    page = Path(__file__).parent.parent / "docs" / "validation-durability.md"
    page.write_text(PAGE.format(head=HEAD, table=table))


HEAD = (
    "| what was going on | database | a whole run (s) | kills | before the first acknowledgement "
    "| acknowledged | lost | by halves |\n|---|---|---|---|---|---|---|---|"
)
PAGE = """# Validation: kill -9

Rewritten by `python -m validation.kill`. A process works at a desk and says what was acknowledged to it; it
is ended with SIGKILL; then the desk is opened again as a server would. How long a whole run takes is measured
first, and the random points are spread evenly over it. *Lost* counts what was acknowledged and is not there,
*by halves* what is there without what belongs to it (a recording without its job, an analysis without all its
strokes, strokes of a job that has ended, some putts of one entry, a backup that is not whole, a file left
behind, a database that fails its own check).

{head}
{table}

This is about processes that die. A machine that loses power asks more of the disk: SQLite and the files on
their way in are forced to disk before anything is acknowledged (`records/engine.py`, `records/files.py`);
PostgreSQL does so unless it is told otherwise.
"""

if __name__ == "__main__":
    main()
