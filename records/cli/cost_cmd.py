"""What the work costs, and plans side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli.days import firm_today
from records.cli.output import counted, say, say_json, table, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.costing import CostReport, CostRow, Plan

HELP = """Tell what the products cost that were put out.

Adjuvants are in it. A lot costs what was paid for it; what names no lot that was bought costs the average of what was
bought until that day.

Example: swathbook cost --per product --from 2026-05
"""
group = typer.Typer(help=HELP, invoke_without_command=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="cost")


@group.callback()
def cost(
    context: typer.Context,
    per: Annotated[str, typer.Option("--per", metavar="WHAT", help="visit, product, site or month.")] = "product",
    since: Annotated[str | None, typer.Option("--from", metavar="DAY", help="First day, month or year.")] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day, month or year.")] = None,
) -> None:
    """Tell what the products cost that were put out."""
    if context.invoked_subcommand is not None:
        return
    from datetime import date

    from records.services.costing import cost as cost_of
    from records.services.costing.words import cost_document
    from records.services.finding import in_order, read_day

    run = application(context)
    last = read_day(until, last=True) or firm_today(run)
    first = read_day(since) or date(last.year, 1, 1)
    in_order(first, last)
    with run.book().read() as work:
        report = cost_of(work, per, first, last)
    if state_of(context).json:
        say_json({"schema": 1, **cost_document(report)})
    else:
        _tell(report)


def _tell(report: CostReport) -> None:
    from fractions import Fraction

    from records.domain.quantities import decimal_text
    from records.services.costing.report import NANO
    from records.services.costing.words import dollars, thousands

    say(f"cost by {report.per}, {report.since} to {report.until}")
    if not report.rows:
        say("nothing was put out in these days")
        return
    say()
    is_named = any(row.words for row in report.rows)
    rows = [_cells(row, is_named=is_named) for row in (*report.rows, report.total)]
    if is_named:
        head = [report.per, "", "1000 sq ft", "cost", "per 1000", "no price"]
    else:
        head = [report.per, "appl.", "1000 sq ft", "cost", "per 1000", "per acre", "no price"]
    table(head, rows, right=range(2 if is_named else 1, len(head)), keep=[0, *range(2, len(head))])
    total = report.total
    how = f"priced by lot {total.by_lot:,}, by the average of what was bought until the day {total.by_average:,}"
    say(wrapped(f"{how}; adjuvants {dollars(total.adjuvants)} of {dollars(total.cost)}", "  "))
    if total.unpriced:
        what = counted(total.unpriced, "application")
        say(wrapped(f"{what} without a price or an amount: the true cost is higher", "       ", "  note "))
    if total.unpriced_area and total.is_priced:
        ground = (
            f"{decimal_text(Fraction(total.unpriced_area, NANO * 1000), 1)} of the {thousands(total)} thousand sq ft"
        )
        say(wrapped(f"{ground} got nothing with a price: per 1000 and per acre leave them out", "       ", "  note "))


def _cells(row: CostRow, *, is_named: bool) -> list[str]:
    from records.services.costing.words import dollars, thousands

    cost = dollars(row.cost) if row.is_priced else "?"
    lacking = f"{row.unpriced:,}" if row.unpriced else ""
    if is_named:
        return [row.key, row.words, thousands(row), cost, dollars(row.per_thousand), lacking]
    each = [dollars(row.per_thousand), dollars(row.per_acre)]
    return [row.key, f"{row.applications:,}", thousands(row), cost, *each, lacking]


@group.command("compare")
def compare(
    context: typer.Context,
    plans: Annotated[
        list[str],
        typer.Argument(metavar="PLAN...", help="Products joined by +, each with its rate, or at the median used."),
    ],
    method: Annotated[
        str, typer.Option("--method", metavar="METHOD", help="Whose applications the median is taken from.")
    ] = "broadcast",
    output: Annotated[
        str | None, typer.Option("--output", metavar="RATE", help="Spray per area, for rates per spray.")
    ] = None,
) -> None:
    """Compare products or plans: cost per 1,000 sq ft and per acre.

    Example: swathbook cost compare 'brindle-4l=1.1 fl oz/1000 sq ft' orlop-3w
    """
    from records.services.costing import compare as compare_plans
    from records.services.costing.words import plans_document

    run = application(context)
    day = firm_today(run)
    with run.book().read() as work:
        found = compare_plans(work, plans, day, method=method, output=output)
    if state_of(context).json:
        say_json({"schema": 1, **plans_document(found)})
    else:
        _tell_plans(found)


def _tell_plans(found: list[Plan]) -> None:
    from records.services.costing.words import dollars

    rows = []
    for number, plan in enumerate(found, 1):
        rows += [
            [str(number), part.product, part.rate, part.how, dollars(part.per_thousand) or "?", ""]
            for part in plan.parts
        ]
        rows.append([str(number), "together", "", "", dollars(plan.per_thousand) or "?", dollars(plan.per_acre) or "?"])
    head = ["plan", "product", "rate", "rate from", "per 1000", "per acre"]
    table(head, rows, right=[4, 5], keep=[0, 1, 2, 4, 5])
    for part in (part for plan in found for part in plan.parts if part.over):
        say(wrapped(f"over the label: {part.product} at {part.rate}; {part.over}", "       ", "  note "))
    lacking = sorted({part.product for plan in found for part in plan.parts if part.price is None})
    if lacking:
        told = f"no price is known of {', '.join(lacking)}: swathbook stock buy ... --price"
        say(wrapped(told, "       ", "  note "))
        return
    costs = [(plan.per_thousand, plan.text) for plan in found if plan.per_thousand is not None]
    if len(costs) > 1:
        least, most = min(costs), max(costs)
        if least[0] == most[0]:
            say("all cost the same")
        else:
            say(wrapped(f"{least[1]} costs {dollars(most[0] - least[0])} less per 1,000 sq ft than {most[1]}", ""))
