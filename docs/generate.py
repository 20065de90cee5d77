"""Rewrite the parts of the documentation that are made from the code: `make docs`.

A page marks such a part with a pair of comments, and what stands between them is replaced::

    <!-- made by: measures -->
    ...
    <!-- end -->

The maker is a name of `MAKERS`; or `$ pacewright ...`, a command (several with `&&`) that is run and shown
with what it prints; or `example FILE`, a Python file that is run and shown likewise.
"""

from __future__ import annotations

import contextlib
import importlib
import inspect
import io
import os
import re
import runpy
import shlex
import sys
import tempfile
from collections.abc import Callable, Iterator, Sized
from pathlib import Path
from unittest import mock

import typer

import pacewright
from pacewright.cli.main import COMMANDS, run
from pacewright.core.registry import EVENTS, MEASURES

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
PART = re.compile(r"(<!-- made by: (.+?) -->\n).*?(<!-- end -->)", re.DOTALL)
TERMINAL = {"COLUMNS": "120", "LINES": "40", "TERM": "dumb", "NO_COLOR": "1"}


def pages() -> Iterator[Path]:
    """README and every page of `docs/`."""
    yield ROOT / "README.md"
    yield from sorted(DOCS.rglob("*.md"))


def renewed(text: str) -> str:
    """The text of a page with every made part made anew."""
    return PART.sub(lambda part: f"{part[1]}{_made_by(part[2]).rstrip()}\n{part[3]}", text)


def _made_by(maker: str) -> str:
    if maker.startswith("$ "):
        return "```console\n" + "\n".join(_session(maker.removeprefix("$ ").split(" && "))) + "```"
    if maker.startswith("example "):
        return _example(ROOT / maker.removeprefix("example "))
    return MAKERS[maker]()


def _session(commands: list[str]) -> Iterator[str]:
    """Each command with what it prints; ``> FILE`` sends that to a file. They share one folder."""
    with _printing() as out:
        for command in commands:
            arguments, _, file = command.partition(" > ")
            printed = _output(shlex.split(arguments)[1:], out)
            if file:
                Path(file).write_text(printed)
            yield f"$ {command}\n" + ("" if file else printed)


def _output(arguments: list[str], out: io.StringIO) -> str:
    """What `pacewright` prints for these arguments, without spaces at line ends and empty lines around it."""
    out.seek(0)
    out.truncate()
    if (code := run(arguments)) != 0:
        raise SystemExit(f"pacewright {shlex.join(arguments)} ended with {code}")
    return _tidy(out)


def _example(path: Path) -> str:
    """The code of an example without its docstring, and what it prints."""
    with _printing() as out:
        runpy.run_path(str(path), run_name="__main__")
    code = path.read_text().split('"""', 2)[2].strip()
    return f"```python\n{code}\n```\n\n```text\n{_tidy(out)}```"


@contextlib.contextmanager
def _printing() -> Iterator[io.StringIO]:
    """Catch what is printed, at one width of terminal, in a folder of its own that holds `examples/`."""
    out = io.StringIO()
    with contextlib.ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        (folder / "examples").symlink_to(ROOT / "examples")
        stack.enter_context(contextlib.chdir(folder))
        stack.enter_context(mock.patch.dict(os.environ, TERMINAL))
        stack.enter_context(contextlib.redirect_stdout(out))
        yield out


def _tidy(out: io.StringIO) -> str:
    lines = "\n".join(line.rstrip() for line in out.getvalue().splitlines())
    return lines.strip("\n") + "\n"


def _measures() -> str:
    rows = [
        f"| `{m.name}` | {m.unit or '–'} | {m.label} | {m.definition} "
        f"| [{m.method}](../methods/{m.method}.md) |"
        for m in MEASURES.values()
    ]
    return "\n".join(["| name | unit | label | definition | method |", "|---|---|---|---|---|", *rows])


def _events() -> str:
    return ", ".join(f"`{event}_time_s`" for event in EVENTS)


def _commands() -> str:
    with _printing() as out:
        shown = {name: _output([*name.split(), "--help"], out) for name in _command_names()}
    return "\n\n".join(f"### `pacewright {name}`\n\n```text\n{text}```" for name, text in shown.items())


def _command_names() -> Iterator[str]:
    """Every command, those of a group after it."""
    for name, (module, _) in COMMANDS.items():
        yield name
        group = typer.main.get_command(importlib.import_module(module).command)
        yield from (f"{name} {one}" for one in getattr(group, "commands", ()))


def _api() -> str:
    names = [name for name in pacewright.__all__ if not name.startswith("_")]
    things = {name: getattr(pacewright, name) for name in names}
    kinds: dict[str, Callable[[object], bool]] = {
        "Functions": inspect.isfunction,
        "Types": lambda thing: inspect.isclass(thing) and not issubclass(thing, Exception),
        "Errors": lambda thing: inspect.isclass(thing) and issubclass(thing, Exception),
        "Values": lambda thing: not callable(thing),
    }
    parts = []
    for kind, belongs in kinds.items():
        entries = [_entry(name, thing) for name, thing in things.items() if belongs(thing)]
        if entries:
            parts.append(f"## {kind}\n\n" + "\n".join(entries))
    return "\n\n".join(parts)


def _entry(name: str, thing: object) -> str:
    if not callable(thing):
        return (
            f"- `{name}`: a {type(thing).__name__} of {len(thing)}"
            if isinstance(thing, Sized)
            else f"- `{name}`"
        )
    paragraph = " ".join((inspect.getdoc(thing) or "").split("\n\n")[0].split()).replace("``", "`")
    sentence = re.split(r"(?<=\.) (?=[A-Z`])", paragraph)[0]
    call = f"{name}{inspect.signature(thing)}" if inspect.isfunction(thing) else name
    return f"- `{call}`: {sentence}"


def _norms() -> str:
    """Every norm with its figures and source."""
    from pacewright.coaching.norms import norms

    def band(low: float, high: float) -> str:
        return "–" if low != low and high != high else f"{low:g} to {high:g}".replace("nan", "–")

    rows = [
        f"| {n.id} | {f'`{n.measure}`' if n.measure else '–'} | {n.unit or '–'} "
        f"| {'–' if n.value != n.value else f'{n.value:g}'} | {band(n.low, n.high)} "
        f"| {band(n.act_low, n.act_high)} | {n.status} | {n.source} {n.note}{_of(n.population)} |"
        for n in norms().values()
    ]
    head = "| norm | measure | unit | value | band | acts beyond | status | source and meaning |"
    return "\n".join([head, "|---|---|---|---|---|---|---|---|", *rows])


def _skill_norms() -> str:
    """What players of known skill do, with population, number and source."""
    from pacewright.coaching.skill_norms import spread_norm, tour_expected_putts, tour_holed
    from pacewright.core.units import FOOT_M

    tour, expected = tour_holed(), tour_expected_putts()
    rows = [
        f"| holed from {distance_m / FOOT_M:.2f} ft | {100 * holed / putts:.1f} % | {tour.population} "
        f"| {putts:,} putts | {tour.source} ({tour.status}) |"
        for distance_m, putts, holed in tour.rows
    ]
    rows += [
        f"| putts to hole out from {distance_m / FOOT_M:.0f} ft | {putts:.3f} | {expected.population} "
        f"| not told | {expected.source} ({expected.status}) |"
        for distance_m, putts in expected.rows
    ]
    rows += [
        f"| spread of distance, {n.task} | {100 * n.value:.1f} % | {n.population} | {n.players} players "
        f"| {n.source} ({n.status}) |"
        for n in map(spread_norm, ("mixed", "repeated"))
    ]
    return "\n".join(["| what | value | population | number | source |", "|---|---|---|---|---|", *rows])


def _of(population: str) -> str:
    return f" ({population})" if population else ""


def _listed(folder: str) -> str:
    """The pages of a folder of `docs/` by their titles, for the index."""
    named = {page: page.read_text().partition("\n")[0].lstrip("# ") for page in sorted(_pages_in(folder))}
    return "\n".join(f"- [{title}]({page.relative_to(DOCS)})" for page, title in named.items())


def _pages_in(folder: str) -> list[Path]:
    return [page for page in (DOCS / folder).glob("*.md") if page != DOCS / "README.md"]


def _routes() -> str:
    """Every route of the API with what it does."""
    from fastapi import FastAPI

    from pacewright.web.api import router

    app = FastAPI()
    app.include_router(router)
    lines = ["| | below `/api/v1` | |", "|---|---|---|"]
    for path, methods in app.openapi()["paths"].items():
        for method, told in methods.items():
            says = told["description"].split("\n\n")[0].replace("\n", " ").replace("|", "or")
            lines.append(f"| `{method.upper()}` | `{path.removeprefix('/api/v1')}` | {says} |")
    return "\n".join(lines)


MAKERS: dict[str, Callable[[], str]] = {
    "routes": _routes,
    "measures": _measures,
    "events": _events,
    "commands": _commands,
    "api": _api,
    "norms": _norms,
    "skill norms": _skill_norms,
    "guides": lambda: _listed("."),
    "contracts": lambda: _listed("contracts"),
    "methods": lambda: _listed("methods"),
    "decisions": lambda: _listed("decisions"),
}


def main() -> int:
    """Write the pages that changed, and name them."""
    for page in pages():
        old = page.read_text()
        new = renewed(old)
        if new != old:
            page.write_text(new)
            print(f"rewrote {page.relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
