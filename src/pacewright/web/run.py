"""Start the server: what it may do is checked first, then it listens until it is told to stop."""

from __future__ import annotations

import gc
import logging
from pathlib import Path
from typing import Any

from pacewright.app.desk.desk import Desk
from pacewright.core.errors import SettingsError
from pacewright.web.access import local_addresses
from pacewright.web.server import create_app
from pacewright.web.settings import ServerSettings, is_loopback
from pacewright.web.tls import Certificate, make_certificate

GRACE_S = 3
NO_PASSWORD = (
    "Whoever reaches this desk from another machine has to log in, and there is no account yet. "
    "Set a password first: pacewright serve --set-password coach --data {folder}"
)


def serve(
    data_dir: Path,
    *,
    host: str,
    port: int,
    database_url: str | None = None,
    tls: bool | None = None,
    behind_proxy: bool = False,
    extra_hosts: tuple[str, ...] = (),
    workers: int = 1,
) -> None:
    """Serve the desk of a data folder until interrupted.

    ``tls`` None: on every address but those of this machine alone, unless behind a proxy. Raises
    SettingsError when the address is open to others and nobody could log in, or cannot be listened to.
    """
    is_open = behind_proxy or not is_loopback(host)
    encrypts = tls if tls is not None else is_open and not behind_proxy
    with Desk.open(data_dir, database_url) as desk:
        if is_open and not desk.users.are_there_any():
            raise SettingsError(NO_PASSWORD.format(folder=data_dir))
        settings = ServerSettings(
            host=host, port=port, demands_login=is_open, secure_cookies=encrypts or behind_proxy,
            behind_proxy=behind_proxy, extra_hosts=extra_hosts, workers=workers,
        )  # fmt: skip
        names = () if is_loopback(host) else (*local_addresses(), host, *extra_hosts)
        wanted = tuple(name for name in names if name not in ("0.0.0.0", "::"))
        certificate = make_certificate(data_dir, wanted) if encrypts else None
        _listen(desk, settings, certificate)


def _listen(desk: Desk, settings: ServerSettings, certificate: Certificate | None) -> None:
    import uvicorn

    _log_to_file(desk.data_dir)
    options: dict[str, Any] = {}
    if certificate is not None:
        options = {"ssl_certfile": str(certificate.chain), "ssl_keyfile": str(certificate.key)}
    app = create_app(desk, settings)
    settle()
    config = uvicorn.Config(
        app, host=settings.host, port=settings.port, log_level="warning",
        access_log=False, server_header=False, proxy_headers=settings.behind_proxy,
        forwarded_allow_ips="127.0.0.1", timeout_graceful_shutdown=GRACE_S, timeout_keep_alive=20,
        h11_max_incomplete_event_size=32 << 10, **options,
    )  # fmt: skip
    server = uvicorn.Server(config)
    socket = config.bind_socket() if _can_listen(settings) else None
    if socket is None:
        raise SettingsError(
            f"Port {settings.port} of {settings.host} cannot be listened to; is another server running "
            "there? Give another one with --port."
        )
    _tell(settings, socket.getsockname()[1], encrypts=certificate is not None)
    server.run(sockets=[socket])


def settle() -> None:
    """What is there once the server stands stays: looking through all of it for garbage, as Python does every
    few hundred requests, would hold up one of them for a tenth of a second."""
    gc.collect()
    gc.freeze()


def _can_listen(settings: ServerSettings) -> bool:
    import socket

    try:
        family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind((settings.host, settings.port))
    except OSError:
        return False
    return True


def _tell(settings: ServerSettings, port: int, *, encrypts: bool) -> None:
    scheme = "https" if encrypts else "http"
    print(f"The desk is open at {scheme}://{_shown(settings.host)}:{port}/  (stop with Ctrl-C)", flush=True)
    if is_loopback(settings.host):
        return
    import segno

    for address in local_addresses()[:1]:
        url = f"{scheme}://{address}:{port}/"
        print(f"Phones in the same network find it at {url}", flush=True)
        segno.make(url, error="m").terminal(compact=True)
    if encrypts:
        print("They say once that they do not know its certificate; go on. It was made here, on the spot.")
    else:
        print("Without TLS anyone in the network can read along, and phones give no microphone.", flush=True)


def _shown(host: str) -> str:
    if host in ("0.0.0.0", "::"):
        return "localhost"
    return f"[{host}]" if ":" in host else host


def _log_to_file(data_dir: Path) -> None:
    """What breaks off goes, with its traceback, to a file of the data folder and to nobody else."""
    from logging.handlers import RotatingFileHandler

    handler = RotatingFileHandler(data_dir / "web.log", maxBytes=1 << 20, backupCount=2, delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    log = logging.getLogger("pacewright.web")
    log.addHandler(handler)
    log.propagate = False
