"""Time-ordered identifiers: UUID version 7 (RFC 9562), rising within a process even in one millisecond."""

from __future__ import annotations

import secrets
import threading
import time
from uuid import UUID

_COUNTER_BITS = 12
_lock = threading.Lock()
_last = (0, 0)


def new_id() -> UUID:
    """A new identifier. Later ones of a process sort after earlier ones."""
    global _last
    with _lock:
        stamp = max(time.time_ns() // 1_000_000, _last[0])
        counter = _last[1] + 1 if stamp == _last[0] else secrets.randbits(_COUNTER_BITS - 2)
        if counter >= 1 << _COUNTER_BITS:
            stamp, counter = stamp + 1, 0
        _last = (stamp, counter)
    return uuid7(stamp, counter, secrets.randbits(62))


def uuid7(unix_ms: int, counter: int, noise: int) -> UUID:
    """The UUID of a time in milliseconds, a 12-bit counter and 62 bits of noise."""
    value = (
        (unix_ms & (1 << 48) - 1) << 80 | 7 << 76 | (counter & 0xFFF) << 64 | 2 << 62 | noise & (1 << 62) - 1
    )
    return UUID(int=value)
