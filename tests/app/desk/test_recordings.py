"""Recordings come in whole or in pieces, are analysed by jobs, and old analyses are kept."""

from __future__ import annotations

import hashlib
import io
import math
import time
from pathlib import Path
from typing import Any

import pytest

from pacewright.app.desk import jobs, measured, workers
from pacewright.app.desk.desk import Desk
from pacewright.app.desk.reports import ReportRequest
from pacewright.app.desk.workers import work_once
from pacewright.core.errors import ConflictError, LimitError, QualityError, RecordError, SettingsError
from pacewright.records.schema import Job
from pacewright.records.schema.base import now
from tests.app.desk.people import add_recording, some_putts, stroke_table, willing_player


def _send(desk: Desk, upload_id: Any, data: bytes, start: int = 0, piece: int = 5000) -> None:
    for place in range(start, len(data), piece):
        desk.uploads.append(upload_id, place, data[place : place + piece])


def test_an_upload_that_was_broken_off_goes_on_where_it_was(desk: Desk) -> None:
    session, data = desk.sessions.create(willing_player(desk).id), stroke_table()
    upload = desk.uploads.begin(session.id, "putts.csv", len(data), sha256=hashlib.sha256(data).hexdigest())
    _send(desk, upload.id, data[:12_000])
    with pytest.raises(ConflictError, match="12000"):
        desk.uploads.append(upload.id, 10_000, data[10_000:])
    with pytest.raises(ConflictError):
        desk.uploads.finish(upload.id)
    # The server dies after a piece was written and before it was acknowledged.
    part = desk._context.files.part(upload.id)
    part.write_bytes(part.read_bytes() + b"torn")
    (going_on,) = desk.uploads.of_session(session.id)
    _send(desk, upload.id, data, going_on.received)
    kept = desk.uploads.finish(upload.id)
    assert desk.uploads.finish(upload.id).id == kept.id == upload.id
    assert desk.recordings.path(kept.id).read_bytes() == data
    assert [one.kind for one in desk.jobs.open()] == ["analyse"]
    assert desk.uploads.of_session(session.id) == ()


def test_an_upload_is_held_to_what_was_announced(desk: Desk) -> None:
    session, data = desk.sessions.create(willing_player(desk).id), stroke_table()
    upload = desk.uploads.begin(session.id, "putts.csv", 100)
    with pytest.raises(LimitError):
        desk.uploads.append(upload.id, 0, data)
    with pytest.raises(LimitError):
        desk.uploads.begin(session.id, "putts.csv", 1 << 50)
    other = desk.uploads.begin(session.id, "putts.csv", len(data), sha256="0" * 64)
    _send(desk, other.id, data)
    with pytest.raises(RecordError, match="hash"):
        desk.uploads.finish(other.id)
    assert desk.recordings.of_session(session.id) == ()
    desk.uploads.cancel(upload.id)
    assert len(desk.uploads.of_session(session.id)) == 1


def test_a_finish_that_died_half_way_is_finished_later(desk: Desk) -> None:
    session, data = desk.sessions.create(willing_player(desk).id), stroke_table()
    upload = desk.uploads.begin(session.id, "putts.csv", len(data))
    _send(desk, upload.id, data)
    sha256 = hashlib.sha256(data).hexdigest()
    with desk._context.write() as transaction:
        from pacewright.records.schema import Upload

        row = transaction.get(Upload, upload.id)
        assert row is not None
        row.sha256, row.is_complete = sha256, True
    desk._context.files.finish(upload.id, sha256)
    assert desk.uploads.finish(upload.id).sha256 == sha256


def test_an_analysis_writes_strokes_curves_and_findings(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    recording = add_recording(desk, session, asked_m=3.66)
    assert work_once(desk._context) is not None
    assert work_once(desk._context) is None
    (job,) = desk.jobs.of_session(session.id)
    assert (job.state, job.progress, job.error) == ("done", 1.0, "")
    kept = desk.recordings.get(recording.id)
    strokes = desk.strokes.list(recording_id=recording.id).items
    assert [stroke.kind for stroke in strokes] == ["rehearsal"] * 2 + ["putt"] * 8
    assert [stroke.number for stroke in strokes] == list(range(10))
    assert kept.strokes == 10
    assert kept.analysis_id == job.result_id == strokes[0].analysis_id
    curve = desk.strokes.curve(strokes[4].id)
    assert curve is not None
    assert (
        abs(curve.speed_m_s[abs(curve.time_s).argmin()] - strokes[4].measures["impact_speed_m_s"].value)
        < 0.01
    )
    analysis = desk.strokes.analysis(strokes[0].analysis_id)
    assert analysis.result["source"] == "putts-12ft.csv"
    assert analysis.settings["asked_m"] == 3.66
    assert {stroke.asked_m for stroke in strokes} == {3.66}
    assert desk.strokes.findings(session_id=session.id)


def test_strokes_are_there_as_they_are_measured_and_go_with_the_job(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Lost and begun anew, cancelled, done: never doubled, nothing by halves, and at the end the same."""
    monkeypatch.setattr(measured, "HAND_OVER_S", 0.0)
    session = desk.sessions.create(willing_player(desk).id)
    add_recording(desk, session, asked_m=3.66)
    context, seen, ends_at = desk._context, [], 4
    write = measured.HandOver._write

    def watched(hand_over: measured.HandOver) -> None:
        write(hand_over)
        seen.append([stroke.number for stroke in desk.jobs.measured(session.id)])
        if len(seen) == ends_at:
            raise KeyboardInterrupt

    monkeypatch.setattr(measured.HandOver, "_write", watched)
    with pytest.raises(KeyboardInterrupt):
        work_once(context)
    assert seen == [[0], [0, 1], [0, 1, 2], [0, 1, 2, 3]]
    # The worker is gone and leaves them behind; another one begins anew.
    assert len(desk.jobs.measured(session.id)) == 4
    jobs.recover(context, silent_s=-1.0)
    assert desk.jobs.measured(session.id) == ()
    seen.clear()
    with pytest.raises(KeyboardInterrupt):
        work_once(context)
    assert seen[-1] == [0, 1, 2, 3]
    (job,) = desk.jobs.open()
    desk.jobs.cancel(job.id)
    jobs.end(context, job.id, "here", "cancelled")
    assert desk.jobs.measured(session.id) == ()
    assert desk.strokes.list(session_id=session.id).items == ()

    desk.jobs.retry(job.id)
    seen, ends_at = [], 99
    work_once(context)
    assert seen[-1] == list(range(10))
    assert desk.jobs.measured(session.id) == ()
    assert [stroke.number for stroke in desk.strokes.list(session_id=session.id).items] == list(range(10))
    # Analysed anew, the strokes that stand are shown until the new ones take their place.
    desk.recordings.analyse(session_recording(desk, session.id))
    seen = []
    work_once(context)
    assert seen == [[]] * 10


def session_recording(desk: Desk, session_id: Any) -> Any:
    """The only recording of a session."""
    return desk.recordings.of_session(session_id)[0].id


def test_analysing_again_keeps_the_old_analysis_and_the_putts_follow(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    recording = add_recording(desk, session)
    work_once(desk._context)
    desk.putts.add(session.id, some_putts(8))
    desk.putts.pair(session.id)
    old = desk.strokes.list(session_id=session.id).items
    desk.recordings.analyse(recording.id, asked_m=4.0)
    work_once(desk._context)
    new = desk.strokes.list(session_id=session.id).items
    assert [one.measures for one in new] == [one.measures for one in old]
    assert not {one.id for one in new} & {one.id for one in old}
    first, second = desk.strokes.analyses(recording.id)
    assert (first.superseded_by, second.superseded_by) == (None, first.id)
    assert not desk.strokes.get(old[0].id).is_current
    linked = [putt.stroke_id for putt in desk.putts.list(session_id=session.id).items]
    assert linked == [one.id for one in new if one.kind == "putt"]


def test_a_file_without_strokes_or_that_cannot_be_read_is_said(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    still = b"time_s,head_x_m\n" + b"".join(b"%.3f,0.0\n" % (k / 200) for k in range(900))
    desk.recordings.add(session.id, "still.csv", io.BytesIO(still))
    desk.recordings.add(session.id, "odd.csv", io.BytesIO(b"a,b\n1,2\n3,4\n"))
    for _ in range(2):
        work_once(desk._context)
    odd, quiet = desk.jobs.of_session(session.id)
    assert quiet.state == "done"
    assert odd.state == "failed"
    assert "odd.csv" in odd.error
    assert str(desk.data_dir) not in odd.error
    with pytest.raises(QualityError):
        desk.reports.report(ReportRequest((session.id,)))


@pytest.mark.parametrize(
    ("event", "by_s", "measure", "change_s"),
    [
        ("takeaway", -0.030, "backswing_time_s", 0.030),
        ("impact", 0.004, "downswing_time_s", 0.004),
        ("finish", 0.050, "follow_through_time_s", 0.050),
    ],
)
def test_a_moved_event_is_measured_again_at_once(
    desk: Desk, event: Any, by_s: float, measure: str, change_s: float
) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    recording = add_recording(desk, session)
    work_once(desk._context)
    old = desk.strokes.list(session_id=session.id).items
    moved_to = old[5].events[event].value + by_s
    new = desk.strokes.move_event(old[5].id, event, moved_to)
    assert new.events[event].value == pytest.approx(moved_to)
    assert new.measures[measure].value - old[5].measures[measure].value == pytest.approx(change_s, abs=0.002)
    (correction,) = desk.strokes.corrections(recording.id)
    assert (correction.event, correction.old_time_s, correction.new_time_s, correction.made_by) == (
        event, old[5].events[event].value, moved_to, "coach",
    )  # fmt: skip
    standing = desk.strokes.list(session_id=session.id).items
    assert [one.measures for k, one in enumerate(standing) if k != 5] == [
        one.measures for k, one in enumerate(old) if k != 5
    ]
    with pytest.raises(ConflictError):
        desk.strokes.move_event(old[5].id, event, moved_to)
    desk.recordings.analyse(recording.id)
    work_once(desk._context)
    again = desk.strokes.list(session_id=session.id).items
    assert again[5].events[event].value == pytest.approx(moved_to)
    assert len(desk.strokes.analyses(recording.id)) == 3


def test_a_correction_taken_back_leaves_what_was_measured(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    recording = add_recording(desk, session)
    work_once(desk._context)
    measured = desk.strokes.list(session_id=session.id).items[5]

    def move(event: Any, by_s: float) -> Any:
        stroke = desk.strokes.list(session_id=session.id).items[5]
        return desk.strokes.move_event(stroke.id, event, measured.events[event].value + by_s)

    assert move("top", 0.01).events["top"].sd != pytest.approx(measured.events["top"].sd)
    move("takeaway", -0.03)
    one_left = move("top", 1e-9)
    assert one_left.events["top"].method == measured.events["top"].method
    assert one_left.events["top"].sd == pytest.approx(measured.events["top"].sd, rel=1e-3)
    assert one_left.events["takeaway"].method == "by-hand"
    back = move("takeaway", 0.0)
    assert (back.events, back.measures, back.quality) == (
        measured.events, measured.measures, measured.quality,
    )  # fmt: skip
    assert desk.strokes.curve(back.id) is not None
    assert len(desk.strokes.corrections(recording.id)) == 4
    desk.recordings.analyse(recording.id)
    work_once(desk._context)
    assert desk.strokes.list(session_id=session.id).items[5].events == measured.events


def test_events_out_of_order_are_refused(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    recording = add_recording(desk, session)
    work_once(desk._context)
    stroke = desk.strokes.list(session_id=session.id).items[3]
    for event, time_s in (("takeaway", stroke.events["impact"].value), ("top", math.nan), ("tee", 1.0)):
        with pytest.raises(SettingsError):
            desk.strokes.move_event(stroke.id, event, time_s)  # type: ignore[arg-type]
    assert len(desk.strokes.analyses(recording.id)) == 1
    assert desk.strokes.corrections(recording.id) == ()


def test_a_report_comes_from_what_was_kept(desk: Desk) -> None:
    player, green = willing_player(desk), desk.greens.create("Practice", 3.0)
    session = desk.sessions.create(player.id, green_id=green.id)
    add_recording(desk, session, asked_m=3.66)
    work_once(desk._context)
    model = desk.reports.model(ReportRequest((session.id,)))
    assert [row.kind for row in model.rows].count("putt") == 8
    assert model.player == player.name
    assert model.station is not None
    assert all(row.curve is not None for row in model.rows)
    assert "putts-12ft.csv" in model.recordings[0]
    assert b"Ida Morwenna" in desk.reports.report(ReportRequest((session.id,)), "html")


def test_a_job_is_claimed_once_and_given_up_when_cancelled(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    add_recording(desk, session)
    context = desk._context
    job = jobs.claim(context, "one", 1)
    assert job is not None
    assert jobs.claim(context, "two", 2) is None
    assert jobs.beat(context, job.id, "one", 0.5)
    assert not jobs.beat(context, job.id, "two", 0.9)
    assert desk.jobs.get(job.id).progress == 0.5
    with pytest.raises(ConflictError):
        desk.jobs.retry(job.id)
    assert desk.jobs.cancel(job.id).cancel_asked
    assert not jobs.beat(context, job.id, "one", 0.6)
    jobs.end(context, job.id, "one", "cancelled")
    assert desk.jobs.get(job.id).state == "cancelled"
    again = desk.jobs.retry(job.id)
    assert desk.jobs.cancel(again.id).state == "cancelled"
    assert work_once(context) is None


def test_a_job_that_lost_its_worker_waits_again_three_times_and_then_has_failed(desk: Desk) -> None:
    add_recording(desk, desk.sessions.create(willing_player(desk).id))
    context = desk._context
    for attempt in range(3):
        job = jobs.claim(context, f"w{attempt}", 1)
        assert job is not None
        assert jobs.recover(context, lost_workers=frozenset({f"w{attempt}"})) == 1
    kept = desk.jobs.get(job.id)
    assert (kept.state, kept.attempts) == ("failed", 3)
    assert "3 times" in kept.error


def test_a_silent_worker_has_lost_its_job_and_cannot_write_any_more(desk: Desk) -> None:
    add_recording(desk, desk.sessions.create(willing_player(desk).id))
    context = desk._context
    job = jobs.claim(context, "one", 1)
    assert job is not None
    assert jobs.recover(context) == 0
    assert jobs.recover(context, silent_s=-1.0) == 1
    taken = jobs.claim(context, "two", 2)
    assert taken is not None
    assert taken.id == job.id
    with context.write() as transaction:
        assert jobs.is_ours(transaction, job.id, "one") is None
        assert jobs.is_ours(transaction, job.id, "two") is not None


def test_a_stuck_job_is_ended_and_said_so(desk: Desk) -> None:
    add_recording(desk, desk.sessions.create(willing_player(desk).id))
    context = desk._context
    job = jobs.claim(context, "one", 4711)
    assert job is not None
    assert jobs.stuck(context) == []
    assert jobs.stuck(context, after_s=-1.0) == [("one", 4711)]
    ended = desk.jobs.get(job.id)
    assert ended.state == "stuck"
    assert "No progress" in ended.error
    assert desk.story.today().troubled_jobs[0].id == job.id


def _wait(done: Any, seconds: float = 60.0) -> None:
    limit = time.monotonic() + seconds
    while not done():
        assert time.monotonic() < limit, "not in time"
        time.sleep(0.05)


def test_worker_processes_do_the_jobs_and_one_that_is_killed_is_replaced(desk: Desk) -> None:
    import os
    import signal

    session = desk.sessions.create(willing_player(desk).id)
    first = add_recording(desk, session)
    crew = desk.workers(1)
    crew.start()
    try:
        _wait(lambda: desk.recordings.get(first.id).strokes == 10)
        (pid,) = crew.pids()
        os.kill(pid, signal.SIGKILL)
        second = add_recording(desk, session, seed=2)
        _wait(lambda: desk.recordings.get(second.id).strokes == 10)
        assert crew.pids() != (pid,)
    finally:
        crew.stop()
    assert crew.pids() == ()


def test_a_restart_takes_up_what_a_dead_process_left(desk: Desk) -> None:
    add_recording(desk, desk.sessions.create(willing_player(desk).id))
    context = desk._context
    job = jobs.claim(context, f"{workers._host()}:gone", 2**22 + 1)
    assert job is not None
    crew = desk.workers(0)
    crew.start()
    crew.stop()
    assert desk.jobs.get(job.id).state == "queued"


def test_an_unknown_job_fails_in_words(desk: Desk) -> None:
    with desk._context.write() as transaction:
        job = Job(kind="polish", created_at=now())
        transaction.add(job)
    work_once(desk._context)
    assert "polish" in desk.jobs.get(job.id).error


def test_a_recording_that_was_damaged_on_disk_is_not_analysed(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    recording = add_recording(desk, session)
    place: Path = desk.recordings.path(recording.id)
    place.write_bytes(place.read_bytes()[:-1])
    work_once(desk._context)
    assert "damaged" in desk.jobs.of_session(session.id)[0].error
