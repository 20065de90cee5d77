"""A folder of recordings: resumable whatever stops it, and one that fails stops no other."""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from pacewright.app.assessment import AssessOptions, ReadOptions, assess
from pacewright.app.batch import batch, options_fingerprint
from pacewright.app.demo import recording_csv
from pacewright.app.strokes_json import load_strokes
from pacewright.cli.main import run
from pacewright.core.errors import SettingsError
from pacewright.core.green import Green
from pacewright.simulate.sampling import Sampling, record_trajectory
from pacewright.simulate.stroke_model import StrokeModel


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    import numpy as np

    folder = tmp_path_factory.mktemp("recorded")
    for k in range(3):
        models = [StrokeModel(backswing_length_m=0.18 + 0.03 * k)]
        recording = record_trajectory(models, np.random.default_rng(k), Sampling(120.0, 0.0002)).recording
        (folder / f"putt-{k}.csv").write_text(recording_csv(recording))
    (folder / "bad.csv").write_text("time_s,head_x_m\n0,one\n")
    (folder / "notes.pdf").write_bytes(b"%PDF")
    return folder


@pytest.fixture
def folder(recorded: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(recorded, tmp_path / "strokes"))


def test_all_are_assessed_and_the_bad_one_is_told(folder: Path) -> None:
    shares: list[float] = []
    result = batch(folder, workers=2, progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == pytest.approx(1.0)
    assert [row.file for row in result.rows] == ["bad.csv", "putt-0.csv", "putt-1.csv", "putt-2.csv"]
    (failure,) = result.failures
    assert "bad.csv" in failure.message
    assert result.passed_over == ("notes.pdf",)
    rows = {row["recording"]: row for row in csv.DictReader(result.summary_csv.read_text().splitlines())}
    assert rows["bad.csv"]["status"] == "failed"
    assert rows["bad.csv"]["message"] == failure.message
    for k in range(3):
        (alone,) = assess([folder / f"putt-{k}.csv"])
        assert int(rows[f"putt-{k}.csv"]["putts"]) == len(alone.putts)
        assert float(rows[f"putt-{k}.csv"]["median_time_ratio"]) == pytest.approx(
            alone.strokes[0].value("time_ratio"), rel=1e-4
        )
    assert len(load_strokes(result.strokes_json)) == 3


def test_what_is_done_is_not_done_again_unless_something_changed(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert not any(row.was_done for row in batch(folder, out, workers=1).rows)
    assert all(row.was_done for row in batch(folder, out, workers=1).rows)
    slow = AssessOptions(green=Green(speed_m=3.0))
    again = batch(folder, out, slow, workers=1)
    assert not any(row.was_done for row in again.rows)
    shutil.copy(folder / "putt-1.csv", folder / "putt-0.csv")
    (folder / "bad.csv").unlink()
    assert [row.was_done for row in batch(folder, out, slow, workers=1).rows] == [True, True, True]
    (folder / "putt-0.csv").write_text((folder / "putt-0.csv").read_text() + "# more\n")
    assert [row.was_done for row in batch(folder, out, slow, workers=1).rows] == [False, True, True]


def test_a_damaged_result_is_made_again(folder: Path) -> None:
    batch(folder, workers=1)
    for place in (folder / "assessed" / "results").glob("*.json"):
        place.write_bytes(place.read_bytes()[:40])
    result = batch(folder, workers=1)
    assert not any(row.was_done for row in result.rows)
    assert len(result.failures) == 1


def test_the_fingerprint_tells_options_apart() -> None:
    one = options_fingerprint(AssessOptions())
    assert one == options_fingerprint(AssessOptions(read=ReadOptions(progress=print), curves=False))
    assert one != options_fingerprint(AssessOptions(read=ReadOptions(left_handed=True)))


def _start(folder: Path) -> subprocess.Popen[str]:
    # Tests that run in the background of a shell have Ctrl-C switched off, and hand that on.
    return subprocess.Popen(
        [sys.executable, "-m", "pacewright", "batch", str(folder), "--workers", "1"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip


def _living(group: int) -> list[str]:
    """Processes of a group that still run."""
    listed = subprocess.run(["ps", "-eo", "pgid=,stat=,args="], capture_output=True, text=True, check=True)
    rows = [line.split(None, 2) for line in listed.stdout.splitlines()]
    return [args for pgid, state, args in rows if int(pgid) == group and not state.startswith("Z")]


def _wait_for_a_result(folder: Path, process: subprocess.Popen[str]) -> None:
    while not list((folder / "assessed" / "results").glob("*.json")) and process.poll() is None:
        time.sleep(0.01)


def _more(folder: Path, count: int) -> None:
    text = (folder / "putt-0.csv").read_text()
    for k in range(count):
        (folder / f"more-{k:03d}.csv").write_text(f"# {k}\n{text}")


@pytest.fixture
def many(folder: Path) -> Path:
    _more(folder, 12)
    return folder


def test_killed_hard_it_goes_on_where_it_was(many: Path) -> None:
    process = _start(many)
    _wait_for_a_result(many, process)
    os.killpg(process.pid, signal.SIGKILL)
    process.communicate()
    kept = list((many / "assessed" / "results").glob("*.json"))
    assert kept
    for place in kept:
        json.loads(place.read_bytes())
    result = batch(many, workers=1)
    assert sum(row.was_done for row in result.rows) == len(kept)
    assert len(result.failures) == 1


def test_ctrl_c_leaves_whole_results_and_no_process(folder: Path) -> None:
    _more(folder, 300)  # so many that it is not done before the signal comes, however busy the machine
    process = _start(folder)
    _wait_for_a_result(folder, process)
    os.killpg(process.pid, signal.SIGINT)
    _, said = process.communicate(timeout=60)
    assert process.returncode != 0
    assert "run the same command again" in said
    assert "Traceback" not in said
    assert not list((folder / "assessed" / "results").glob(".*"))
    for _ in range(100):
        if not _living(process.pid):
            break
        time.sleep(0.05)
    assert _living(process.pid) == []


def test_on_the_command_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["batch", str(folder), "--workers", "1", "--out", str(folder / "results")]) == 0
    said = capsys.readouterr().out
    assert "3 of 4 recordings assessed" in said
    assert "failed: " in said
    assert "Passed over: notes.pdf" in said
    assert (folder / "results" / "summary.csv").is_file()


def test_what_makes_no_sense_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="not a folder"):
        batch(tmp_path / "nowhere")
    with pytest.raises(SettingsError, match="no recording"):
        batch(tmp_path)
    (tmp_path / "a.csv").write_text("x")
    with pytest.raises(SettingsError, match="workers"):
        batch(tmp_path, workers=0)
    with pytest.raises(SettingsError, match="one putt length"):
        batch(tmp_path, options=AssessOptions(asked_length_m=(1.0, 2.0)))


def test_a_folder_of_failures_is_a_failure(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "a.csv").write_text("nothing\n")
    assert run(["batch", str(tmp_path), "--workers", "1"]) == 2
    assert "failed: " in capsys.readouterr().out
