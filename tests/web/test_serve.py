"""Starting the server: on this machine alone, or for others with a password and TLS."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import ssl
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cryptography import x509

from pacewright.app.desk.desk import Desk
from pacewright.cli.main import run
from pacewright.web import run as starting
from pacewright.web.settings import is_loopback
from pacewright.web.tls import make_certificate, root_file
from tests.web.clients import PASSWORD


@pytest.mark.parametrize(
    ("host", "told"),
    [
        ("127.0.0.1", True), ("127.0.1.9", True), ("::1", True), ("localhost", True), ("0.0.0.0", False),
        ("::", False), ("192.168.1.5", False), ("desk.example", False), ("", False),
    ],
)  # fmt: skip
def test_what_only_this_machine_reaches(host: str, told: bool) -> None:
    assert is_loopback(host) is told


@pytest.mark.parametrize("options", [["--host", "0.0.0.0"], ["--host", "192.0.2.1"], ["--behind-proxy"]])
def test_nobody_else_gets_in_before_there_is_a_password(
    tmp_path: Path, options: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["serve", "--data", str(tmp_path), *options]) == 2
    assert "--set-password" in capsys.readouterr().err


def test_the_password_is_set_and_set_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for password in ("ab", PASSWORD, f"{PASSWORD} again"):
        monkeypatch.setenv("PACEWRIGHT_PASSWORD", password)
        assert run(["serve", "--data", str(tmp_path), "--set-password", "Coach"]) == (
            2 if password == "ab" else 0
        )
    with Desk.open(tmp_path) as desk:
        assert desk.users.log_in("coach", f"{PASSWORD} again").user.role == "coach"


@pytest.mark.parametrize(
    ("options", "login", "secure", "encrypted", "proxied"),
    [
        ([], False, False, False, False),
        (["--tls"], False, True, True, False),
        (["--host", "0.0.0.0"], True, True, True, False),
        (["--host", "0.0.0.0", "--no-tls"], True, False, False, False),
        (["--behind-proxy"], True, True, False, True),
    ],
)
def test_an_open_door_wants_a_log_in_and_tls(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: list[str], login: bool, secure: bool,
    encrypted: bool, proxied: bool,
) -> None:  # fmt: skip
    seen = []
    monkeypatch.setattr(starting, "_listen", lambda *told: seen.append(told[1:]))
    with Desk.open(tmp_path) as desk:
        desk.users.create("coach", PASSWORD, "coach")
    assert run(["serve", "--data", str(tmp_path), *options]) == 0
    ((settings, certificate),) = seen
    assert (settings.demands_login, settings.secure_cookies, settings.behind_proxy) == (
        login,
        secure,
        proxied,
    )
    assert (certificate is not None) is encrypted


def test_a_certificate_is_kept_while_it_fits_and_its_keys_are_the_owners(tmp_path: Path) -> None:
    first = make_certificate(tmp_path, ("192.168.1.5", "desk.local"))
    before = first.chain.read_bytes()
    assert make_certificate(tmp_path, ("192.168.1.5",)).chain.read_bytes() == before
    root = root_file(tmp_path).read_bytes()
    moved = make_certificate(tmp_path, ("192.168.1.77",))
    assert moved.chain.read_bytes() != before
    assert root_file(tmp_path).read_bytes() == root  # phones that trust it need not be asked again
    for name in ("desk.key", "root.key"):
        assert (tmp_path / "tls" / name).stat().st_mode & 0o077 == 0
    constraints = x509.load_pem_x509_certificate(root).extensions.get_extension_for_class(
        x509.NameConstraints
    )
    assert constraints.critical
    assert constraints.value.permitted_subtrees


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_the_real_server_over_tls_answers_and_stops_cleanly(tmp_path: Path) -> None:
    port = _free_port()
    command = [
        sys.executable,
        "-m",
        "pacewright",
        "serve",
        "--data",
        str(tmp_path),
        "--port",
        str(port),
        "--tls",
    ]
    environment = os.environ | {"OMP_NUM_THREADS": "1"}
    with subprocess.Popen(
        command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        try:
            assert server.stdout is not None
            assert f"https://127.0.0.1:{port}/" in server.stdout.readline()
            trusting = ssl.create_default_context(cafile=str(root_file(tmp_path)))
            for _ in range(100):
                try:
                    connection = http.client.HTTPSConnection("127.0.0.1", port, context=trusting, timeout=20)
                    connection.request("GET", "/api/v1/health")
                    break
                except ConnectionError:
                    time.sleep(0.1)
            answer = connection.getresponse()
            assert (answer.status, answer.read()) == (200, b'{"status":"ok"}')
            assert answer.getheader("server") is None
            connection.close()
        finally:
            server.send_signal(signal.SIGINT)
            _, told = server.communicate(timeout=30)
    assert "Traceback" not in told
    assert server.returncode in (0, -signal.SIGINT, 130)


def test_a_port_that_is_taken_is_said_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert run(["serve", "--data", str(tmp_path), "--port", str(port)]) == 2
    assert f"Port {port}" in capsys.readouterr().err


def test_the_demo_club_is_ordered_once_and_only_for_an_empty_desk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(starting, "serve", lambda *_, **__: None)
    for _ in range(2):
        assert run(["serve", "--demo", "--data", str(tmp_path)]) == 0
        assert "is made as soon as the desk is open" in capsys.readouterr().out
    with Desk.open(tmp_path) as desk:
        (job,) = desk.jobs.open()
        assert job.kind == "demo-club"
        desk.jobs.cancel(job.id)
        desk.players.create("Ida Morwenna")
    assert run(["serve", "--demo", "--data", str(tmp_path)]) == 0
    assert "wants an empty desk" in capsys.readouterr().out
    with Desk.open(tmp_path) as desk:
        assert desk.jobs.open() == ()
