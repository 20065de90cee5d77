"""The readers that come with Pacewright, and what to say about a file that none of them knows."""

from __future__ import annotations

import re

from pacewright.readers.c3d import C3dReader
from pacewright.readers.columns import meaning
from pacewright.readers.inertial import InertialReader
from pacewright.readers.layout import find_layout
from pacewright.readers.options import ReadOptions
from pacewright.readers.registry import register
from pacewright.readers.text import decode_head, find_encoding
from pacewright.readers.timing import TimingReader
from pacewright.readers.trajectory import TrajectoryReader
from pacewright.readers.trc import TrcReader

for _reader in (C3dReader(), TrcReader(), TrajectoryReader(), InertialReader(), TimingReader()):
    register(_reader)

_WHAT_IS_READ = (
    "Pacewright reads tables of numbers (CSV and its kin) and motion capture (C3D, TRC). "
    "If it should be a table, say how it is written: delimiter and decimal (--read 'delimiter=;' and "
    "--read decimal=, on the command line)."
)


def why_unknown(head: bytes, size_bytes: int, options: ReadOptions) -> str:
    """What a file seems to be that no reader knows from its ``head``, and what to do."""
    layout = find_layout(head, options.delimiter, options.decimal)
    if layout is None:
        return _why_no_table(head, size_bytes)
    if not layout.names:
        return (
            f"line {layout.first_data_line}: the table has {layout.width} columns of numbers but no header "
            "that names them. Say which is which by number, such as --columns time_s=1,head_x_m=2."
        )
    names = ", ".join(f"'{name if len(name) <= 40 else name[:40] + '…'}'" for name in layout.names[:30])
    known = ", ".join(f"'{name}'" for name in layout.names if meaning(name))
    return (
        f"line {layout.header_line}: none of the columns {names} is known as the head's place (head_x_m), "
        f"a sensor's turning rate (gyro_x_rad_s) or a time taken by hand (takeaway_s, top_s, impact_s)"
        + (f"; only {known} is" if known else "")
        + ". Say which is which, such as --columns time_s=NAME,head_x_m=NAME."
    )


def _why_no_table(head: bytes, size_bytes: int) -> str:
    encoding = find_encoding(head)
    if encoding is None:
        return f"it is neither text nor C3D; {_WHAT_IS_READ}"
    for number, line in enumerate(decode_head(head, encoding).splitlines(), 1):
        if any(meaning(cell) for cell in re.split(r"[,;|\t]", line)):
            return f"line {number}: the header has no row of figures under it; there is nothing to read."
    if len(head) < size_bytes:
        searched = f"the first {len(head) / 1e6:.1f} MB of {size_bytes / 1e6:.1f}"
        return (
            f"no table of numbers shows in {searched}; shorten what stands above the table, if there is one. "
            f"{_WHAT_IS_READ}"
        )
    return f"there is no table of numbers in it; {_WHAT_IS_READ}"
