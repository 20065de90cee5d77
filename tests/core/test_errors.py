"""One tree of errors, each told apart by what the user has to do about it."""

from __future__ import annotations

from pathlib import Path

from pacewright.core import errors

PAGE = Path(__file__).parents[2] / "docs" / "contracts" / "errors.md"


def test_every_error_of_the_tree_has_one_base_and_stands_in_the_drawing_and_on_the_page() -> None:
    kinds = [
        thing for thing in vars(errors).values() if isinstance(thing, type) and issubclass(thing, Exception)
    ]
    assert errors.PacewrightError in kinds
    for kind in kinds:
        assert issubclass(kind, errors.PacewrightError)
        assert kind.__name__ in (errors.__doc__ or "")
        assert f"`{kind.__name__}`" in PAGE.read_text()
