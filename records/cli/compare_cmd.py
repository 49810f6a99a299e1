"""Comparing products on a target."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.days import firm_today
from records.cli.output import pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.services.comparing.model import Comparison


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("compare")(compare)


def compare(
    context: typer.Context,
    target: Annotated[
        str,
        typer.Argument(metavar="TARGET", autocompletion=completing.targets, help="The weed, or a part of its name."),
    ],
    products: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="PRODUCT[+PRODUCT]...",
            autocompletion=completing.products,
            help="Products or mixes; none: all that were rated.",
        ),
    ] = None,
    since: Annotated[str | None, typer.Option("--from", metavar="DAY", help="Treated on or after.")] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Treated on or before.")] = None,
    site: Annotated[
        str | None, typer.Option("--site", metavar="SITE", autocompletion=completing.sites, help="At this site only.")
    ] = None,
    method: Annotated[str | None, typer.Option("--method", metavar="METHOD", help="By this method only.")] = None,
    turf: Annotated[str | None, typer.Option("--turf", metavar="TURF", help="On this turf only.")] = None,
    until_days: Annotated[
        int | None,
        typer.Option("--until-days", metavar="N", min=1, max=140, help="Final control within so many days."),
    ] = None,
    with_adjuvants: Annotated[
        bool, typer.Option("--with-adjuvants", help="Tell mixes with other adjuvants apart.")
    ] = False,
    without_trials: Annotated[bool, typer.Option("--without-trials", help="Leave plots of trials out.")] = False,
    out: Annotated[
        str | None, typer.Option("--out", metavar="FILE", help="A page (.pdf) or the curve (.svg); - is stdout.")
    ] = None,
    paper: Annotated[str, typer.Option("--paper", metavar="PAPER", help="letter or a4.")] = "letter",
) -> None:
    """Compare products on a weed: how fast, how well, cost.

    A site counts once. Medians come with an interval that asks nothing of how ratings spread, differences with an exact
    test: few sites tell no difference, and the answer says so. Final control is that at the last look of the mode of
    action; what was not looked at so late is not judged yet, and open.

    Example: swathbook compare dandelion brindle-4l orlop-3w --from 2026
    """
    from records.errors import UsageError
    from records.services.comparing.service import Wish
    from records.services.comparing.service import compare as compare_products
    from records.services.finding import read_day

    if out is not None and out != "-" and not out.lower().endswith((".pdf", ".svg")):
        raise UsageError(f"--out {out[:60]!r} does not say which kind of file", "End it in .pdf or .svg")
    run = application(context)
    wish = Wish(
        target=target,
        names=tuple(products or ()),
        since=read_day(since),
        until=read_day(until, last=True),
        site=site,
        method=method,
        turf=turf,
        until_days=until_days,
        with_adjuvants=with_adjuvants,
        with_trials=not without_trials,
    )
    with run.book().read() as work:
        found = compare_products(work, wish)
    if out is not None:
        _write(run, found, out, paper, is_json=state_of(context).json)
    elif state_of(context).json:
        from records.services.comparing.words import document

        say_json({"schema": 1, **document(found)})
    else:
        _tell(found)


def _write(run: Application, found: Comparison, out: str, paper: str, *, is_json: bool) -> None:
    from records.cli.state import write_output
    from records.services.comparing.pictures import curve
    from records.services.comparing.words import document, page_of
    from records.services.directory import Directory
    from records.services.occasions import firm_of

    if out.lower().endswith(".svg"):
        from records.reports.charts import svg

        data = svg(curve(found))
    else:
        from records.reports.comparison import render_comparison

        with run.book().read() as work:
            firm = firm_of(Directory(work.catalogue))[0].name
        data = render_comparison(page_of(found, firm, firm_today(run)), paper)
    where = write_output(out, data)
    if is_json and out != "-":
        say_json({"schema": 1, "written": where, **document(found)})
    else:
        talk(f"written: {where}")


def _tell(found: Comparison) -> None:
    from records.cli.chart_view import show_chart
    from records.services.comparing.pictures import curve
    from records.services.comparing.words import HEAD, about, details, legend, row, sentences

    say(wrapped(f"products on {found.target}"))
    say(wrapped(about(found), "  "))
    say()
    table(HEAD, [row(one) for one in found.groups], right=range(1, len(HEAD)), keep=range(1, len(HEAD)))
    say()
    say(wrapped(legend(found), "  "))
    for one in found.groups:
        say()
        say(wrapped(one.name))
        pairs(details(one))
    say()
    show_chart(curve(found))
    say()
    for sentence in sentences(found):
        say(wrapped(sentence, "    ", "  = "))
    for caution in found.cautions:
        say(wrapped(caution, "       ", "  note "))
