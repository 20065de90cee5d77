"""How often somebody may be wrong: log-ins and links that are guessed."""

from __future__ import annotations

import ipaddress
import threading
import time
from collections import OrderedDict, deque

from fastapi import Request
from starlette.exceptions import HTTPException

MOST_KEYS = 10_000


class Failures:
    """Counts failures by key within a window; whoever has too many waits. Safe in several threads."""

    def __init__(self, most: int, window_s: float) -> None:
        self.most, self._window_s = most, window_s
        self._failed: OrderedDict[str, deque[float]] = OrderedDict()
        self._lock = threading.Lock()

    def check(self, key: str) -> None:
        """Raise HTTPException 429 while the key has failed too often, whether it is right now or not."""
        with self._lock:
            failed = self._recent(key)
            if len(failed) >= self.most:
                wait_s = max(1, round(failed[0] + self._window_s - time.monotonic()))
                raise HTTPException(
                    429, f"Too many tries; wait {wait_s} s.", headers={"Retry-After": str(wait_s)}
                )

    def note(self, key: str) -> None:
        """Count one failure."""
        with self._lock:
            self._recent(key).append(time.monotonic())
            self._failed.move_to_end(key)
            while len(self._failed) > MOST_KEYS:
                self._failed.popitem(last=False)

    def forgive(self, key: str) -> None:
        """Forget the failures of a key."""
        with self._lock:
            self._failed.pop(key, None)

    def _recent(self, key: str) -> deque[float]:
        failed = self._failed.setdefault(key, deque())
        while failed and failed[0] < time.monotonic() - self._window_s:
            failed.popleft()
        return failed


def sender(request: Request) -> str:
    """Where a request comes from: the address, of IPv6 the network, for one household has it all."""
    host = request.client.host if request.client is not None else ""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return host
    if address.version == 6:
        return str(ipaddress.ip_network((address, 64), strict=False))
    return host
