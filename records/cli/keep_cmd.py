"""Until when records have to be kept, and the removal of a year whose time is over."""

from __future__ import annotations

import re
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli import completing
from records.cli.output import counted, pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.bootstrap import Application
    from records.rules.retention import Term
    from records.services.keeping import Gone, RecordKept, Removal, YearKept

LINES = 20


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("keep")(keep)


def keep(
    context: typer.Context,
    what: Annotated[
        str | None,
        typer.Argument(
            metavar="[SERIAL|YEAR]",
            autocompletion=completing.serials,
            help="One record, or those of a year; else all years.",
        ),
    ] = None,
    remove: Annotated[
        int | None, typer.Option("--remove", metavar="YEAR", min=1900, max=9999, help="Remove the records of a year.")
    ] = None,
    reason: Annotated[str | None, typer.Option("--reason", metavar="TEXT", help="Why they are removed.")] = None,
    by: Annotated[
        str | None,
        typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who removes them, by id."),
    ] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Remove without asking again.")] = False,
    everything: Annotated[bool, typer.Option("--all", help="Every record of the year.")] = False,
) -> int:
    """Show until when records have to be kept, and why.

    Nothing can be removed before. A year whose time is over can be removed whole; the removal is sealed and verify
    still holds.

    Example: swathbook keep 2026-000041
    """
    from records.errors import UsageError
    from records.services import keeping

    run, as_json = application(context), state_of(context).json
    if remove is not None:
        if what is not None or reason is None or by is None:
            raise UsageError(
                "a removal names a year, a reason and a person",
                "swathbook keep --remove YEAR --reason TEXT --by PERSON",
            )
        return _remove(run, remove, reason, by, is_sure=yes, as_json=as_json)
    if reason is not None or by is not None or yes:
        raise UsageError("--reason, --by and --yes go with --remove YEAR", "swathbook keep --help")
    if what is None:
        years, gone = keeping.kept_years(run.book(), run.clock)
        if as_json:
            say_json(_years_document(years, gone))
        else:
            _tell_years(years, gone)
    elif re.fullmatch(r"\d{4}", what, re.ASCII):
        found = keeping.kept_of_year(run.book(), run.clock, int(what))
        if as_json:
            say_json({"schema": 1, "year": int(what), "records": [_record(record) for record in found]})
        else:
            _tell_year(found, everything=everything)
    else:
        record = keeping.kept_of_record(run.book(), run.clock, what)
        if as_json:
            say_json({"schema": 1, **_record(record)})
        else:
            _tell_record(record)
    return 0


# -- how long ---------------------------------------------------------------------------------------------------------


def _term(term: Term) -> dict[str, Any]:
    return {
        "until": term.last_day.isoformat(),
        "years": term.years,
        "from": term.starts,
        "start": term.start.isoformat(),
        "products": term.products,
        "pack": term.pack or None,
        "citation": term.citation,
        "status": term.status,
        "url": term.url or None,
    }


def _record(record: RecordKept) -> dict[str, Any]:
    return {
        "serial": record.serial,
        "date": record.day,
        "until": record.last_day.isoformat(),
        "why": [_term(term) for term in record.terms],
    }


def _years_document(years: list[YearKept], gone: list[Gone]) -> dict[str, Any]:
    return {
        "schema": 1,
        "years": [
            {
                "year": year.year,
                "records": year.records,
                "earliest_end": year.first_end.isoformat(),
                "latest_end": None if year.last is None else year.last.last_day.isoformat(),
                "latest": None if year.last is None else year.last.serial,
                "may_be_removed_from": None if year.may_go is None else year.may_go.isoformat(),
                "rules": [{"rule": rule, "records": count} for rule, count in year.rules.items()],
            }
            for year in years
        ],
        "removed": [{"year": one.year, "revisions": one.revisions, "event": one.event} for one in gone],
    }


def _tell_years(years: list[YearKept], gone: list[Gone]) -> None:
    if not years and not gone:
        say("no records yet")
        return
    rows = [
        [str(year.year), f"{year.records:,}", str(year.first_end), str(year.last.last_day), _rules(year)]
        for year in years
        if year.last is not None
    ]
    if rows:
        table(["year", "records", "earliest", "latest", "kept longest by"], rows, right=[1], keep=[0, 1, 2, 3])
    for one in gone:
        say(f"{one.year}: {counted(one.revisions, 'revision')} removed, sealed in {one.event}")
    if rows:
        talk("each date is the last day to keep; the day after the latest, a year may go")
        talk("swathbook keep YEAR lists its records, keep SERIAL tells every reason")


def _rules(year: YearKept) -> str:
    rules = sorted(year.rules, key=year.rules.__getitem__, reverse=True)
    latest = "" if year.last is None else year.last.terms[0].rule
    told = [latest, *(rule for rule in rules if rule != latest)]
    more = f"; and {len(told) - 2} more" if len(told) > 2 else ""
    return "; ".join(told[:2]) + more


def _tell_year(found: list[RecordKept], *, everything: bool) -> None:
    shown = found if everything else found[:LINES]
    by_rule: dict[str, list[RecordKept]] = {}
    for record in shown:
        by_rule.setdefault(record.terms[0].rule, []).append(record)
    for rule, records in by_rule.items():
        say(wrapped(rule, "    ", "  * "))
        for record in records:
            say(f"    {record.serial}  of {record.day}  keep until {record.last_day}")
    if len(shown) < len(found):
        say(f"and {len(found) - len(shown):,} more")
        talk("--all lists every record")


def _tell_record(record: RecordKept) -> None:
    say(f"{record.serial} of {record.day}: keep until {record.last_day}")
    for term in record.terms:
        say(wrapped(term.rule, "      ", "    "))
        say(f"      counted from {term.start}: until {term.last_day}")
    talk("the latest day counts, also by a rule from memory: nothing goes too early")


# -- removal ----------------------------------------------------------------------------------------------------------


def _remove(run: Application, year: int, reason: str, by: str, *, is_sure: bool, as_json: bool) -> int:
    from records.services import keeping
    from records.services.follow_up.ratings import photos_of_removed

    shown = keeping.removal_of(run.book(), run.clock, year)
    if not is_sure and not _agreed(shown):
        talk("nothing was removed")
        return 1
    done = keeping.remove_year(run.book(), run.clock, shown, reason=reason, by=by)
    with run.book().read() as work:
        photos = photos_of_removed(work, done.event)
    if as_json:
        what = {"removed": done.revisions, "event": done.event, "why": list(done.why), "photos_kept": photos}
        say_json({"schema": 1, "year": year, **what})
    else:
        say(f"removed {counted(done.revisions, 'revision')} of {year}, sealed as {done.event}")
        if photos:
            verb = "stays" if photos == 1 else "stay"
            say(f"its ratings are events and stay; so {verb} {counted(photos, 'photo')} of them beside the book")
        talk("swathbook verify checks the chain; copies and backups still hold the year")
    return 0


def _agreed(shown: Removal) -> bool:
    """Ask at the terminal; elsewhere the command has to say --yes.

    Raises:
        UsageError: there is nobody to ask.
    """
    from records.cli.prompts import LeftError, ask
    from records.errors import UsageError

    if not sys.stdin.isatty():
        raise UsageError("a removal asks before it is done", "Add --yes where nobody can answer")
    pairs(
        [
            ("year", str(shown.year)),
            ("revisions", f"{shown.revisions:,}"),
            ("kept until", str(shown.last.last_day)),
            *(("why", why) for why in shown.why),
        ]
    )
    talk("they cannot be brought back from this book")
    try:
        return ask(f"Type {shown.year} to remove them, anything else to keep them") == str(shown.year)
    except LeftError:
        return False
