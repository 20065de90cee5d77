"""A progress bar that shows itself only when the work takes longer than a second."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

PATIENCE_S = 1.0


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[[float], None]]:
    """Yield a function to call with the share done (0 to 1); the bar goes to stderr and then away."""
    started = time.monotonic()
    bar = None

    def show(share: float) -> None:
        nonlocal bar
        if bar is None and time.monotonic() - started > PATIENCE_S:
            bar = _Bar(what)
        if bar is not None:
            bar.update(share)

    try:
        yield show
    finally:
        if bar is not None:
            bar.close()


class _Bar:
    def __init__(self, what: str) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        columns = (TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn())
        self._progress = Progress(*columns, console=Console(file=sys.stderr), transient=True)
        self._task = self._progress.add_task(what, total=1.0)
        self._progress.start()

    def update(self, share: float) -> None:
        self._progress.update(self._task, completed=share)

    def close(self) -> None:
        self._progress.stop()
