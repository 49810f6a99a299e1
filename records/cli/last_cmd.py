"""What was done here last."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import counted, say, say_json, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.daily.last import Last


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("last")(last)


def last(
    context: typer.Context,
    site: Annotated[
        str,
        typer.Argument(metavar="SITE", autocompletion=completing.sites, help="The site by id, or part of its address."),
    ],
    count: Annotated[int, typer.Option("--count", metavar="N", min=1, max=1000, help="Visits at most.")] = 3,
) -> None:
    """Say what was done at a site last, and if it worked.

    Newest first: who, what, where, against what, the weather, the ratings since, and the days between visits.

    Example: swathbook last quarry-rd-58
    """
    from records.services.daily.last import last_document, last_visits

    run = application(context)
    found = last_visits(run.book(), run.clock, site, count)
    if state_of(context).json:
        say_json(last_document(found))
    else:
        _tell(found)


def _tell(found: Last) -> None:
    from records.services.daily.last import put_words, rated_words

    say(f"{found.address} ({found.site})")
    if found.notes:
        say(wrapped(f"note: {found.notes}", "    ", "  "))
    if not found.visits:
        say("  nothing was done here yet")
    for one in found.visits:
        ago = (found.today - one.day).days
        when = (
            f"{counted(one.days_before, 'day')} earlier"
            if one.days_before is not None
            else f"{counted(ago, 'day')} ago"
        )
        mark = "; over a limit, signed for" if one.is_deviation else ""
        say(wrapped(f"{one.day}  {when}, by {one.applicator} ({one.serial}{mark})", "    ", "  "))
        for treated in one.treatments:
            say(wrapped(put_words(treated), "      ", "    "))
        if one.weather:
            say(wrapped(one.weather, "      ", "    "))
        for rating in one.rated:
            say(wrapped(rated_words(rating), "        ", "    > "))
        if not one.rated and any(treated.killers for treated in one.treatments):
            say("    > not rated yet")
        if one.remarks:
            say(wrapped(f"remark: {one.remarks}", "      ", "    "))
    if found.earlier:
        every = min(max(len(found.visits) + found.earlier, 50), 1000)
        say(f"  {counted(found.earlier, 'earlier visit')}: swathbook last {found.site} --count {every}")
