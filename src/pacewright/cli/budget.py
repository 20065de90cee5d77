"""`pacewright budget`: why the distance varies."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pacewright.core.display import Units, check_units
from pacewright.core.errors import SettingsError
from pacewright.core.units import parse_length, parse_share

if TYPE_CHECKING:
    from pacewright.app.budgets import BudgetOptions, BudgetReport

command = typer.Typer(add_completion=False)


@command.command()
def budget(
    putts: Annotated[Path, typer.Argument(help="Putts: CSV, one row a putt, in the order played.")],
    at: Annotated[str, typer.Option(help="Length at which errors are stated: 10ft.")] = "",
    what_if: Annotated[
        list[str] | None,
        typer.Option(help="A cause at some share of its spread: timing=70%. Once for each."),
    ] = None,
    first_putts: Annotated[
        str, typer.Option(help="First putts of a round, length and how many: 5ft=4,20ft=8,40ft=6.")
    ] = "",
    holing: Annotated[
        str, typer.Option(help="Whose chances of holing the next: amateur or tour.")
    ] = "amateur",
    green_spread: Annotated[
        str, typer.Option(help="Spread of distance by the surface alone, if measured: 2.5%.")
    ] = "",
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON.")] = False,
    units: Annotated[str, typer.Option(help="metric or imperial.")] = "metric",
) -> None:
    """Say why the distance varies: stroke length, timing, shape, strike, green and judgement.

    Columns: asked_m and finish_along_m (the roll-out along the line); backswing_length_m, downswing_time_s,
    impact_speed_m_s, ball_speed_m_s, as many as were measured, each with its uncertainty in a column such as
    downswing_time_s_sd; also holed, guess_along_m, finish_across_m, block, session. Other units by the
    ending of the name.
    """
    from pacewright.app.budgets import budget_dict, budget_file

    shown_units = check_units(units)
    report = budget_file(putts, _options(at, what_if or [], first_putts, holing, green_spread))
    if as_json:
        print(json.dumps(budget_dict(report), indent=2))
    else:
        _show(report, shown_units)


def _options(at: str, what_if: list[str], first_putts: str, holing: str, green_spread: str) -> BudgetOptions:
    from pacewright.app.budgets import BudgetOptions, check_holing

    given = BudgetOptions()
    return BudgetOptions(
        at_length_m=_positive_length(at) if at else None,
        what_if=dict(_what_if(text) for text in what_if),
        first_putts=_first_putts(first_putts) if first_putts else given.first_putts,
        holing=check_holing(holing),
        green_spread=parse_share(green_spread) if green_spread else None,
    )


def _what_if(text: str) -> tuple[str, float]:
    cause, equals, share = text.partition("=")
    if not equals:
        raise SettingsError(f"'{text}' is not a cause and a share; write timing=70%.")
    return cause.strip().replace(" ", "_"), parse_share(share)


def _first_putts(text: str) -> tuple[tuple[float, float], ...]:
    pairs = []
    for part in filter(None, (part.strip() for part in text.split(","))):
        length, equals, count = part.partition("=")
        if not equals or not count.strip().isdigit():
            raise SettingsError(f"'{part}' is not a length and how many; write 5ft=4,20ft=8,40ft=6.")
        pairs.append((_positive_length(length), float(count)))
    return tuple(pairs)


def _positive_length(text: str) -> float:
    length_m = parse_length(text)
    if length_m <= 0.0:
        raise SettingsError(f"'{text}' makes no sense here; a length above 0 is needed.")
    return length_m


def _show(report: BudgetReport, units: Units) -> None:
    from rich.console import Console
    from rich.table import Table

    console = Console(highlight=False, markup=False)
    console.print(report.statement, style="bold")
    for sentence in report.sentences():
        console.print(sentence)
    causes = Table(box=None, pad_edge=False, header_style="dim")
    for heading in report.cause_head(units):
        causes.add_column(heading, justify="left" if heading == "Cause" else "right")
    for row in report.cause_rows(units):
        causes.add_row(*row)
    if report.has_shares:
        console.print()
        console.print(causes)
    if report.payoffs:
        what_if = Table(box=None, pad_edge=False, header_style="dim")
        for heading in report.payoff_head:
            what_if.add_column(heading, justify="left" if heading == "What if" else "right")
        for payoff_row in report.payoff_rows():
            what_if.add_row(*payoff_row)
        console.print()
        console.print(what_if)
    console.print()
    for sentence in report.further_sentences():
        console.print(sentence)
    for remark in report.remarks:
        console.print(f"Note: {remark.text}", style="dim")
