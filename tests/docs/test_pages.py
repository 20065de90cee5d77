"""The pages agree with the code, and their links lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import pacewright
from docs.generate import PART, ROOT, pages, renewed

PAGES = list(pages())
IDS = [str(page.relative_to(ROOT)) for page in PAGES]
LINK = re.compile(r"\[[^\]]*\]\(([^)#\s]+)(?:#[^)]*)?\)")


@pytest.mark.parametrize("page", PAGES, ids=IDS)
def test_what_a_page_takes_from_the_code_is_up_to_date(page: Path) -> None:
    text = page.read_text()
    assert text.count("<!-- made by:") == text.count("<!-- end -->") == len(PART.findall(text))
    assert renewed(text) == text, "run: make docs"


@pytest.mark.parametrize("page", PAGES, ids=IDS)
def test_every_link_to_a_file_leads_somewhere(page: Path) -> None:
    targets = [target for target in LINK.findall(page.read_text()) if "://" not in target]
    assert [target for target in targets if not (page.parent / target).exists()] == []


@pytest.mark.parametrize("page", PAGES[1:], ids=IDS[1:])
def test_the_index_leads_to_every_page(page: Path) -> None:
    index = ROOT / "docs" / "README.md"
    if page == index:
        return
    linked = {(index.parent / target).resolve() for target in LINK.findall(index.read_text())}
    assert page.resolve() in linked, f"{page.relative_to(ROOT)} is not in docs/README.md"


def test_the_page_of_the_python_api_names_everything_public() -> None:
    page = (ROOT / "docs" / "api.md").read_text()
    assert [name for name in pacewright.__all__ if not re.search(rf"`{name}\b", page)] == ["__version__"]
