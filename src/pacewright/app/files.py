"""Files are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from pacewright.core.errors import SettingsError


def check_folder(path: str | Path) -> None:
    """Raise SettingsError when the folder of a file to be written does not exist."""
    path = Path(path)
    if not path.parent.is_dir():
        raise SettingsError(f"'{path}' cannot be written: there is no folder '{path.parent}'.")


def write_whole(path: str | Path, data: bytes) -> None:
    """Write ``data`` beside its place and move it there when it is whole.

    Raises SettingsError naming the file when it cannot be written; what stood there before stays.
    """
    path = Path(path)
    unfinished = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        unfinished.write_bytes(data)
        os.replace(unfinished, path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise SettingsError(f"'{path}' cannot be written: {error.strerror}.") from None
