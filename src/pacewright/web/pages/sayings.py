"""Findings in the language of the page: they are made and kept in English, sentence by sentence.

A catalogue (`messages/findings.LANGUAGE.json`) gives each English sentence, and the words in its gaps, in the
other language. What stands in a gap is kept as it is (figures: ``{n}``, ``{f}``), is words of the catalogue
or a list of them (``{w_…}``, ``{lengths}``), or a sentence (``{s_…}``). A text that holds something that is
not known stays as it is.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

FOLDER = Path(__file__).parent.parent / "messages"
_GAP = re.compile(r"\{(\w+)\}")
_JOINTS = (re.compile(r"(; )"), re.compile(r"(, | and )"))


class Sayings:
    """The sentences of one language; call it with a text."""

    def __init__(self, catalogue: Mapping[str, Mapping[str, str]]) -> None:
        self.sentences, self.words, self.joints = (catalogue[key] for key in ("sentences", "words", "joints"))
        self._patterns = [(_pattern(key), told) for key, told in self.sentences.items()]
        self._word_patterns = [(_pattern(key), told) for key, told in self.words.items()]

    def __call__(self, text: str) -> str | None:
        """The text in this language; None when something in it is not known."""
        said: list[str] = []
        rest = text
        while rest:
            first = self._first(rest)
            if first is None:
                return None
            said.append(first[0])
            rest = first[1]
        return " ".join(said)

    def _first(self, text: str) -> tuple[str, str] | None:
        """The sentence that a text begins with, translated, and what comes after it."""
        for pattern, told in self._patterns:
            found = pattern.match(text)
            filled = None if found is None else self._filled(told, found.groupdict())
            if found is not None and filled is not None:
                return filled, text[found.end() :].lstrip()
        return None

    def _filled(self, told: str, gaps: Mapping[str, str]) -> str | None:
        said = {name: self._gap(name, words) for name, words in gaps.items()}
        if None in said.values():
            return None
        return _GAP.sub(lambda gap: str(said[gap[1]]), told)

    def _gap(self, name: str, words: str) -> str | None:
        if name.startswith("s_"):
            return self(words[0].upper() + words[1:])
        if name.startswith("w_") or name == "lengths":
            return self._word(words)
        return words

    def _word(self, words: str) -> str | None:
        """Words of the catalogue, or a list of them."""
        for text in (words, words[0].lower() + words[1:]):
            for pattern, told in self._word_patterns:
                found = pattern.fullmatch(text)
                filled = None if found is None else self._filled(told, found.groupdict())
                if filled is not None:
                    return filled
        for joint in _JOINTS:
            parts = joint.split(words)
            if len(parts) > 1:
                said = [self.joints[part] if k % 2 else self._word(part) for k, part in enumerate(parts)]
                return None if None in said else "".join(str(part) for part in said)
        return None


def _pattern(key: str) -> re.Pattern[str]:
    """A sentence with named gaps as a pattern; it ends where the text does or another sentence begins."""
    parts = _GAP.split(key)
    text = "".join(f"(?P<{part}>{_gap(part)})" if k % 2 else re.escape(part) for k, part in enumerate(parts))
    return re.compile(text + r"(?=$| [A-Z0-9])")


def _gap(name: str) -> str:
    if name == "lengths":
        return r".+\)"
    if name.startswith("f"):
        return r"[+\-−<]?[\d.]+(?: ± [\d.]+)?(?: s| %)?"
    return r"[+\-−<]?\d[^;()]*?" if name.startswith("n") else ".+?"


@cache
def sayings(language: str) -> Sayings | None:
    """The sentences of a language; None for the one that findings are made in."""
    path = FOLDER / f"findings.{language}.json"
    return Sayings(json.loads(path.read_text("utf-8"))) if path.exists() else None
