"""The page on recordings names every column, option and remark that there is, and no other remark."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

import pacewright.readers
from pacewright.readers import ReadOptions
from pacewright.readers.columns import TARGETS

PAGE = (Path(__file__).parents[2] / "docs" / "contracts" / "recording.md").read_text()
SOURCES = Path(pacewright.readers.__file__).parent


def test_every_column_is_named() -> None:
    assert [target for target in TARGETS if f"`{target}`" not in PAGE] == []


def test_every_option_is_named() -> None:
    assert [option.name for option in fields(ReadOptions) if f"`{option.name}`" not in PAGE] == []


def test_remarks_and_page_agree() -> None:
    made = {
        code
        for source in SOURCES.glob("*.py")
        for code in re.findall(r'Remark\(\s*"([a-z-]+)"', source.read_text())
    }
    table = PAGE.partition("## Remarks")[2].partition("## ")[0]
    assert made == set(re.findall(r"^\| `([a-z-]+)` \|", table, re.MULTILINE))
