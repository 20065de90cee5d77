"""The command line as a whole: help, completion, and one way of saying what is wrong."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pacewright import SettingsError, __version__
from pacewright.cli import main as cli
from pacewright.cli.main import COMMANDS, run

RECORDING = str(Path(__file__).parents[2] / "examples" / "hasty-10ft.csv")
STATION = ["--putt", "10ft", "--green", "10ft"]


def _process(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "pacewright", *arguments],
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": "/usr/bin:/bin", "COLUMNS": "100", **environment},
    )


def test_help_lists_every_command_with_its_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--help"]) == 0
    shown = capsys.readouterr()
    for name, (_, summary) in COMMANDS.items():
        assert f"  {name} " in shown.out
        assert summary in " ".join(shown.out.split())
    assert shown.err == ""


def test_no_arguments_are_a_wish_for_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([]) == 0
    bare = capsys.readouterr().out
    assert run(["--help"]) == 0
    assert bare == capsys.readouterr().out


def test_help_imports_no_command_and_nothing_heavy() -> None:
    script = (
        "import sys; from pacewright.cli.main import run; run(['--help']); "
        "print(*sorted(sys.modules), sep='\\n', file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    loaded = set(done.stderr.split())
    assert not loaded & {module for module, _ in COMMANDS.values()}
    assert not loaded & {"numpy", "scipy", "rich", "rich.console", "altair", "ezc3d", "soundfile", "typst"}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_explains_itself(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([name, "--help"]) == 0
    shown = capsys.readouterr()
    assert shown.out.startswith(f"Usage: pacewright {name} ")
    assert shown.err == ""


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    assert capsys.readouterr().out == f"pacewright {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["asses"], "No such command 'asses'"),
        (["--nope"], "No such option: --nope"),
        (["roll", "--nope"], "No such option: --nope"),
        (["roll", "--length"], "'--length' requires an argument"),
    ],
)
def test_a_word_that_is_not_known_is_one_message_and_exit_code_2(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(arguments) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.startswith("pacewright: ")
    assert says in shown.err
    assert "--help" in shown.err
    assert len(shown.err.splitlines()) == 1


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["roll", "--length", "three", "--green", "10ft"], "'three'"),
        (["roll", "--length", "3", "--green", "10ft"], "'3' has no unit"),
        (["roll", "--length", "3s", "--green", "10ft"], "'s' is not a unit of length"),
        (["roll", "--length", "3m", "--green", "10kg"], "'kg' is not a unit of length"),
        (["roll", "--length", "3m", "--green", "900ft"], "green speed"),
        (["roll", "--length", "3m", "--green", "10ft", "--slope", "steep"], "'steep' is not a slope"),
        (["green", "--up", "185cm", "--down", "nan"], "'nan'"),
        (["station", "--putt", "long", "--green", "10ft"], "'long'"),
        (["assess", "no-such-file.csv"], "no-such-file.csv"),
        (["assess", RECORDING, "--asked", "-3ft"], "asked of -0.9144 m makes no sense"),
        (["report", RECORDING, "--out", "r.pdf", "--asked", "0m"], "asked of 0 m makes no sense"),
    ],
)
def test_a_value_that_makes_no_sense_is_quoted_in_one_message(
    arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(arguments) == 2
    shown = capsys.readouterr()
    assert shown.out == ""
    assert shown.err.startswith("pacewright: ")
    assert says in shown.err
    assert "Traceback" not in shown.err


def test_the_process_ends_with_the_code_and_without_a_traceback() -> None:
    done = _process("assess", "no-such-file.csv")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("pacewright: ")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("error", "says"),
    [
        (SettingsError("The green is too fast."), "pacewright: The green is too fast.\n"),
        (
            PermissionError(13, "Permission denied", "a.pdf"),
            "pacewright: 'a.pdf' cannot be used: Permission denied.\n",
        ),
        (
            OSError(28, "No space left on device"),
            "pacewright: the results cannot be printed: No space left on device.\n",
        ),
    ],
)
def test_what_a_command_raises_on_purpose_is_its_message(
    error: Exception, says: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(**_: object) -> None:
        raise error

    monkeypatch.setattr(cli, "app", fail)
    assert run([]) == 2
    assert capsys.readouterr().err == says


def test_a_defect_is_not_dressed_up_as_a_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(**_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(cli, "app", fail)
    with pytest.raises(ZeroDivisionError):
        run([])


def test_the_reader_of_a_pipe_may_go_away() -> None:
    script = f"{sys.executable} -m pacewright --help | head -n 1"
    done = subprocess.run(["bash", "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("Usage: pacewright")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "arguments",
    [["--version"], ["assess", RECORDING, "--json"], ["assess", RECORDING], ["station", *STATION]],
)
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_results_that_cannot_be_printed_are_one_message(arguments: list[str]) -> None:
    command = [sys.executable, "-m", "pacewright", *arguments]
    with open("/dev/full", "w") as full:
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True, check=False)
    assert done.returncode == 2
    assert done.stderr == "pacewright: the results cannot be printed: No space left on device.\n"


@pytest.mark.parametrize("arguments", [["--version"], ["assess", RECORDING, "--json"], ["assess", RECORDING]])
def test_a_pipe_that_is_closed_is_left_in_silence(arguments: list[str]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    command = [sys.executable, "-m", "pacewright", *arguments]
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True, check=False)
    os.close(writing)
    assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.parametrize(
    ("shell", "says"),
    [
        ("bash", "complete -o default -F"),
        ("zsh", "#compdef pacewright"),
        ("fish", "complete --command pacewright"),
    ],
)
def test_completion_scripts_are_printed(shell: str, says: str) -> None:
    done = _process(_PACEWRIGHT_COMPLETE=f"source_{shell}")
    assert done.returncode == 0
    assert says in done.stdout


@pytest.mark.parametrize(
    ("words", "expected"),
    [("pacewright st", {"station", "strip"}), ("pacewright roll --gr", {"--green"})],
)
def test_completion_offers_commands_and_options(words: str, expected: set[str]) -> None:
    last = str(len(words.split()) - 1)
    done = _process(_PACEWRIGHT_COMPLETE="complete_bash", COMP_WORDS=words, COMP_CWORD=last)
    assert set(done.stdout.split()) == expected


def test_a_refused_command_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    recording = tmp_path / "empty.csv"
    recording.write_text("")
    for command in (["assess"], ["report", "--out", "report.pdf"], ["report", "--out", "report.html"]):
        assert run([*command, str(recording)]) == 2
        assert "empty.csv" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["empty.csv"]
