"""Files are written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pacewright.core.errors import SettingsError


def check_folder(path: str | Path) -> None:
    """Raise SettingsError when the folder of a file to be written does not exist."""
    path = Path(path)
    if not path.parent.is_dir():
        raise SettingsError(f"'{path}' cannot be written: there is no folder '{path.parent}'.")


@contextmanager
def whole_file(path: str | Path) -> Iterator[Path]:
    """A file beside its place, to be filled inside the block, and moved there when the block ends well.

    Whatever ends the block otherwise, Ctrl-C included, leaves nothing behind; what stood there before stays.
    Raises SettingsError naming the file when it cannot be written.
    """
    path = Path(path)
    unfinished = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        yield unfinished
        os.replace(unfinished, path)
    except BaseException as error:
        unfinished.unlink(missing_ok=True)
        if isinstance(error, OSError):
            raise SettingsError(f"'{path}' cannot be written: {error.strerror}.") from None
        raise


def write_whole(path: str | Path, data: bytes) -> None:
    """Write ``data`` beside its place and move it there when it is whole.

    Raises SettingsError naming the file when it cannot be written; what stood there before stays.
    """
    with whole_file(path) as unfinished:
        unfinished.write_bytes(data)
