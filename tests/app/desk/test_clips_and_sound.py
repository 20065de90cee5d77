"""Clips and sounds go through the same job as tables: into a session, analysed, shown."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import av
import numpy as np
import pytest
import soundfile

from pacewright.app.desk.desk import Desk
from pacewright.app.desk.reports import ReportRequest
from pacewright.app.desk.workers import work_once
from pacewright.core.errors import QualityError
from tests.app.clip_scene import Scene, write_clip
from tests.app.desk.people import add_recording, willing_player
from tests.app.test_listening import RATE, practice
from tests.databases import fresh_desk
from tests.web.clients import Caller, at_home

LATE_S = [0.02, -0.035, 0.0, 0.05]
SCENE = Scene(size_px=(480, 270))


@pytest.fixture(scope="module")
def clip(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """A clip of one putt whose events are known."""
    path = tmp_path_factory.mktemp("clip") / "putt.mp4"
    write_clip(path, SCENE.each_picture(), SCENE.play_rate_hz)
    return path.read_bytes()


@pytest.fixture
def here(tmp_path: Path) -> Iterator[Desk]:
    """A desk on SQLite: what differs between databases is tested with tables."""
    with fresh_desk("sqlite", tmp_path / "data") as opened:
        yield opened


def _wave() -> tuple[bytes, list[float]]:
    sound, times = practice(LATE_S)
    file = io.BytesIO()
    soundfile.write(file, sound, RATE, format="WAV", subtype="PCM_16")
    return file.getvalue(), times


def _packed(wave: bytes) -> bytes:
    """The same as a browser packs it: a WebM with sound alone."""
    samples, _ = soundfile.read(io.BytesIO(wave), dtype="float32")
    file = io.BytesIO()
    with av.open(file, "w", format="webm") as container:
        stream = container.add_stream("libopus", rate=RATE, layout="mono")
        for start in range(0, samples.size, 960):
            piece = np.ascontiguousarray(samples[None, start : start + 960])
            frame = av.AudioFrame.from_ndarray(piece, format="flt", layout="mono")
            frame.sample_rate, frame.pts = RATE, start
            container.mux(stream.encode(frame))
        container.mux(stream.encode())
    return file.getvalue()


@pytest.mark.parametrize("ending", ["wav", "webm"])
def test_of_a_sound_the_contacts_are_kept(desk: Desk, ending: str) -> None:
    wave, times = _wave()
    session = desk.sessions.create(willing_player(desk).id)
    data = wave if ending == "wav" else _packed(wave)
    recording = desk.recordings.add(session.id, f"beats.{ending}", io.BytesIO(data))
    assert work_once(desk._context) is not None
    kept = desk.recordings.get(recording.id)
    assert kept.job is not None
    assert (kept.job.state, kept.job.error, kept.kind, kept.strokes) == ("done", "", "sound", 0)
    assert kept.analysis_id == kept.job.result_id is not None
    analysis = desk.strokes.analysis(kept.analysis_id)
    assert (analysis.method, analysis.result["source"]) == ("listen", f"beats.{ending}")
    assert str(desk.data_dir) not in analysis.about
    heard = [contact["time_s"] for contact in analysis.result["contacts"]]
    assert heard == pytest.approx(times, abs=2e-3)
    late = [contact["beat_error_s"] for contact in analysis.result["contacts"]]
    assert late == pytest.approx(LATE_S, abs=4e-3)
    assert desk.recordings.heard(session.id)[recording.id] == analysis.result


def test_a_sound_beside_a_table_leaves_strokes_and_report_as_they_are(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    sound = desk.recordings.add(session.id, "beats.wav", io.BytesIO(_wave()[0]))
    work_once(desk._context)
    with pytest.raises(QualityError):
        desk.reports.model(ReportRequest((session.id,)))
    add_recording(desk, session)
    work_once(desk._context)
    model = desk.reports.model(ReportRequest((session.id,)))
    assert len(model.recordings) == 1
    assert "beats.wav" not in model.recordings[0]
    desk.recordings.analyse(sound.id)
    work_once(desk._context)
    first, second = desk.strokes.analyses(sound.id)
    assert (first.superseded_by, second.superseded_by) == (None, first.id)
    assert len(desk.strokes.list(session_id=session.id).items) == 10


def test_a_sound_that_cannot_be_read_is_said(desk: Desk) -> None:
    session = desk.sessions.create(willing_player(desk).id)
    desk.recordings.add(session.id, "torn.wav", io.BytesIO(_wave()[0][:60]))
    work_once(desk._context)
    (job,) = desk.jobs.of_session(session.id)
    assert job.state == "failed"
    assert "torn.wav" in job.error
    assert str(desk.data_dir) not in job.error


def test_a_clip_goes_from_upload_to_review_and_its_events_can_be_moved(here: Desk, clip: bytes) -> None:
    home = Caller(at_home(here))
    session = here.sessions.create(willing_player(here).id)
    upload = here.uploads.begin(session.id, "putt.mp4", len(clip))
    here.uploads.append(upload.id, 0, clip)
    recording = here.uploads.finish(upload.id)
    assert recording.kind == "clip"
    work_once(here._context)
    kept = home.get(f"/recordings/{recording.id}")
    assert (kept["job"]["state"], kept["job"]["error"], kept["strokes"]) == ("done", "", 1)
    (stroke,) = home.get(f"/sessions/{session.id}/strokes")["items"]
    known = SCENE.stroke()
    for event, within_s in (("takeaway", 0.012), ("top", 0.012), ("impact", 0.001)):
        assert stroke["events"][f"{event}_time_s"]["value"] == pytest.approx(
            known.events[event].value, abs=within_s
        )
    track = home.get(f"/recordings/{recording.id}/track")
    assert track["picture_size_px"] == [480, 270]
    assert track["time_s"][0] < known.events["takeaway"].value
    assert track["time_s"][-1] > known.events["finish"].value
    page = home.client.get(f"/strokes/{stroke['id']}")
    assert page.status_code == 200
    assert f"/api/v1/recordings/{recording.id}/content" in page.text

    moved_to = stroke["events"]["takeaway_time_s"]["value"] - 0.03
    new = here.strokes.move_event(here.strokes.list(session_id=session.id).items[0].id, "takeaway", moved_to)
    assert new.events["takeaway"].value == pytest.approx(moved_to)
    was = stroke["measures"]["backswing_time_s"]["value"]
    assert new.measures["backswing_time_s"].value == pytest.approx(was + 0.03, abs=1e-6)
    assert home.client.get(f"/strokes/{new.id}").status_code == 200
    # What was seen stays with the first analysis; the second is made from it.
    assert here.strokes.clip_track(recording.id) is not None
    assert [one.event for one in here.strokes.corrections(recording.id)] == ["takeaway"]


def test_the_page_of_a_session_says_what_was_heard(here: Desk) -> None:
    home = Caller(at_home(here))
    session = here.sessions.create(willing_player(here).id)
    here.recordings.add(session.id, "beats.wav", io.BytesIO(_wave()[0]))
    work_once(here._context)
    text = home.client.get(f"/sessions/{session.id}").text
    assert "4 contacts heard, 90 beats a minute" in text
    assert "0 strokes" not in text
