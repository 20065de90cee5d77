"""Who asks, and under which address: log-ins, the mark against forged requests, names of this server."""

from __future__ import annotations

import contextlib
import hashlib
import hmac
import os
import secrets
import socket
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Annotated
from uuid import UUID

from fastapi import Depends, Request

from pacewright.app.desk.desk import OWNER, Actor, Desk
from pacewright.web.settings import ServerSettings, is_loopback

KEY_FILE = "web.key"
ADDRESSES_OF_THIS_MACHINE = frozenset({"localhost", "127.0.0.1", "[::1]"})


@dataclass(frozen=True, slots=True)
class Visitor:
    """Whoever asks: the desk as it is for them, the mark that their changes must carry, their log-in."""

    actor: Actor
    desk: Desk
    csrf_token: str
    login_token: str = ""


class Doorkeeper:
    """Knows who may come in, and by which names this server is called."""

    def __init__(self, desk: Desk, settings: ServerSettings) -> None:
        self._desk = desk
        self.settings = settings
        self.cookie = "__Host-pacewright" if settings.secure_cookies else "pacewright"
        self.hosts = _names_of_this_server(settings)

    def is_ours(self, host: str) -> bool:
        """Whether a Host header names this server.

        A page elsewhere whose name was bent to this address does not know it.
        """
        return _without_port(host).casefold() in self.hosts

    def admit(self, login_token: str | None) -> Visitor | None:
        """Who that is; None for nobody. Asks the database where a log-in is wanted."""
        if not self.settings.demands_login:
            return Visitor(OWNER, self._desk, self.local_mark)
        if not login_token:
            return None
        found = self._desk.users.logged_in(login_token)
        if found is None:
            return None
        return Visitor(found.actor, self._desk.acting(found.actor), found.csrf_token, login_token)

    @cached_property
    def local_mark(self) -> str:
        """The mark of pages that were opened without a log-in.

        It is the same after a restart, so that an upload can go on.
        """
        return hmac.new(_key(self._desk.data_dir / KEY_FILE), b"local pages", hashlib.sha256).hexdigest()


def visitor_desk(request: Request) -> Desk:
    """The desk as it is for whoever asks."""
    desk: Desk = request.state.desk
    return desk


async def _desk(request: Request) -> Desk:
    return visitor_desk(request)


DeskDep = Annotated[Desk, Depends(_desk)]
"""The desk as it is for whoever asks, as a parameter of a route."""


def own_player(desk: Desk) -> UUID | None:
    """The player that somebody with the role player is."""
    return desk.actor.player_id if desk.actor.role == "player" else None


def local_addresses() -> tuple[str, ...]:
    """The IPv4 addresses of this machine in its networks, the one that leads outside first."""
    found: list[str] = []
    with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        # Nothing is sent: connecting a datagram socket only chooses the way.
        probe.connect(("192.0.2.1", 9))
        found.append(probe.getsockname()[0])
    with contextlib.suppress(OSError):
        named = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        found += [str(info[4][0]) for info in named]
    return tuple(dict.fromkeys(address for address in found if not is_loopback(address)))


def _names_of_this_server(settings: ServerSettings) -> frozenset[str]:
    names = set(ADDRESSES_OF_THIS_MACHINE) | {name.casefold() for name in settings.extra_hosts}
    if not is_loopback(settings.host):
        own = socket.gethostname().casefold()
        names |= {own, f"{own.partition('.')[0]}.local", *local_addresses()}
        names.add(f"[{settings.host}]" if ":" in settings.host else settings.host.casefold())
    return frozenset(names)


def _without_port(host: str) -> str:
    name, colon, port = host.rpartition(":")
    return name if colon and port.isdigit() else host


def _key(path: Path) -> bytes:
    """Random bytes kept in the data folder, readable by its owner alone."""
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_bytes()
    key = secrets.token_bytes(32)
    with os.fdopen(descriptor, "wb") as stream:
        stream.write(key)
    return key
