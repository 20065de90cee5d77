"""Texts: the same keys and gaps in every language, every key used, every use known."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import pacewright.web
from pacewright.web.pages.words import LANGUAGES, Words, choose_language, texts

WEB = Path(pacewright.web.__file__).parent
GAP = re.compile(r"\{(\w+)\}")


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_the_same_texts_with_the_same_gaps(language: str) -> None:
    first, other = texts("en"), texts(language)
    assert first.keys() == other.keys()
    for key, text in other.items():
        assert text.strip(), key
        assert sorted(GAP.findall(text)) == sorted(GAP.findall(first[key])), key


def test_german_is_german() -> None:
    same = [key for key, text in texts("de").items() if text == texts("en")[key]]
    assert len(same) < 30, same


def test_every_text_that_a_page_asks_for_is_there() -> None:
    known = texts("en")
    missing = []
    for path in (WEB / "templates").glob("*.html"):
        for key, after in re.findall(r"\bt\('([^']+)'\s*([,)~])", path.read_text()):
            if after != "~" and key not in known and f"{key}.one" not in known:
                missing.append((path.name, key))
    for path in (WEB / "static" / "desk").glob("*.js"):
        missing += [
            (path.name, key)
            for key in re.findall(r'\bsay\("([^"]+)"', path.read_text())
            if f"js.{key}" not in known
        ]
    assert missing == []


def test_every_text_is_used() -> None:
    pages = "".join(path.read_text() for path in [*WEB.glob("templates/*.html"), *WEB.glob("pages/*.py")])
    scripts = "".join(path.read_text() for path in (WEB / "static" / "desk").glob("*.js"))
    families = set(re.findall(r"t\('([^']+\.)' ~", pages)) | set(re.findall(r"\('([a-z_.]+\.)' ~", pages))
    script_families = set(re.findall(r"`([a-z.]+\.)\$\{", scripts))
    unused = []
    for key in texts("en"):
        plain = re.sub(r"\.(one|many)$", "", key).removeprefix("js.")
        where, starts = (scripts, script_families) if key.startswith("js.") else (pages, families)
        is_found = (
            f"'{plain}'" in where or f'"{plain}' in where or any(plain.startswith(one) for one in starts)
        )
        if not is_found:
            unused.append(key)
    assert unused == []


def test_gaps_and_numbers() -> None:
    words = Words("de")
    assert words("count.putts", n=1) == "1 Putt"
    assert words("count.putts", n=3) == "3 Putts"
    with pytest.raises(KeyError):
        words("no such text")


@pytest.mark.parametrize(
    ("wanted", "accepted", "chosen"),
    [("de", "en", "de"), ("", "fr, de;q=0.8", "de"), ("", "", "en"), ("xx", "en-GB", "en")],
)
def test_language(wanted: str, accepted: str, chosen: str) -> None:
    assert choose_language(wanted, accepted) == chosen


def test_files_are_kept_in_a_form_that_translators_can_read() -> None:
    for language in LANGUAGES:
        text = (WEB / "messages" / f"{language}.json").read_text("utf-8")
        assert text.count("\n") > len(json.loads(text))
