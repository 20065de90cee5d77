"""Every text of the pages, by key and language."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from pacewright.web.pages.sayings import sayings

FOLDER = Path(__file__).parent.parent / "messages"
LANGUAGES = {"en": "English", "de": "Deutsch"}
"""The languages there are, each by its own name; the first is the language that findings are made in."""


class Words:
    """The texts of one language; call it with a key and what stands in the gaps of the text."""

    def __init__(self, language: str) -> None:
        self.language = language
        self._texts = texts(language)

    def __call__(self, key: str, **gaps: object) -> str:
        """The text of a key; with ``n`` a key has a form for one (``.one``) and one for others (``.many``).

        Raises KeyError for a key that is not there.
        """
        if "n" in gaps:
            key += ".one" if gaps["n"] == 1 else ".many"
        text = self._texts[key]
        return text.format(**gaps) if gaps else text

    def __contains__(self, key: str) -> bool:
        return key in self._texts

    def finding(self, text: str) -> str | None:
        """A text of a finding in this language; None where it has to stay in English."""
        told = sayings(self.language)
        return text if self.language == "en" else None if told is None else told(text)

    def of(self, start: str) -> Mapping[str, str]:
        """All texts whose key begins with ``start``, without it: what a script shows."""
        return {key.removeprefix(start): text for key, text in self._texts.items() if key.startswith(start)}


@cache
def texts(language: str) -> Mapping[str, str]:
    """All texts of a language by key."""
    found: dict[str, str] = json.loads((FOLDER / f"{language}.json").read_text("utf-8"))
    return found


def choose_language(wanted: str, accepted: str) -> str:
    """The language that is set, else the first of ``Accept-Language`` that is here."""
    if wanted in LANGUAGES:
        return wanted
    for part in accepted.split(","):
        code = part.split(";")[0].strip().lower()[:2]
        if code in LANGUAGES:
            return code
    return "en"
