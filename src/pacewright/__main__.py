"""`python -m pacewright` is the command `pacewright`."""

from __future__ import annotations

import sys

from pacewright.cli.main import run

if __name__ == "__main__":
    sys.exit(run())
