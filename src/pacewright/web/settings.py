"""How the server is set: where it listens, whom it lets in, how much it takes."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass

LARGEST_BODY = 2 << 20
"""Bytes of a request that is no upload."""
LARGEST_FORM_UPLOAD = 512 << 20
"""Bytes of a form with files; larger ones come in pieces (`/api/v1/uploads`)."""
LARGEST_PACKAGE = 8 << 30
"""Bytes of a player's package on its way in."""


@dataclass(frozen=True, slots=True)
class ServerSettings:
    """How a server is set.

    ``demands_login``: nobody gets in without an account, not even from this machine. ``behind_proxy``:
    believe what a proxy on this machine says about who asks (X-Forwarded-For, -Proto). ``extra_hosts`` are
    further names under which the server is addressed. ``secure_cookies``: cookies travel over TLS alone.
    """

    host: str = "127.0.0.1"
    port: int = 8780
    demands_login: bool = False
    secure_cookies: bool = False
    behind_proxy: bool = False
    extra_hosts: tuple[str, ...] = ()
    workers: int = 0


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach that address."""
    if host.casefold() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
