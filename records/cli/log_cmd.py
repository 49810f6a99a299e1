"""The shop log: what was calibrated, bought, disposed of, rinsed and counted; and what was withdrawn."""

from __future__ import annotations

from typing import Annotated

import typer

from records.cli import completing
from records.cli.output import say, say_json, table, talk
from records.cli.state import application, state_of


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("log")(log)
    app.command("withdraw")(withdraw)


def log(
    context: typer.Context,
    kind: Annotated[
        list[str] | None,
        typer.Option("--kind", metavar="KIND", help="calibration, purchase, disposal, rinse or count; may repeat."),
    ] = None,
    since: Annotated[str | None, typer.Option("--from", metavar="DAY", help="First day, month or year.")] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DAY", help="Last day, month or year.")] = None,
    everything: Annotated[bool, typer.Option("--all", help="Withdrawn entries too, marked with *.")] = False,
) -> None:
    """List what the shop log holds.

    It holds what was calibrated, bought, disposed of, rinsed and counted, each entry sealed.

    Example: swathbook log --kind disposal --from 2026
    """
    from records.services.finding import read_days
    from records.services.logbook import entries
    from records.services.logwords import check_kinds, told

    kinds = check_kinds(kind or [])
    with application(context).book().read() as work:
        first, last = read_days(since or None, until or None)
        found = entries(work, *kinds, since=first, until=last, withdrawn=everything)
    if state_of(context).json:
        listed = [
            {
                "serial": one.serial,
                "kind": one.kind,
                "at": one.data["at"],
                "by": one.person or None,
                "data": one.data,
                "withdrawn": None
                if one.withdrawn is None
                else {"serial": one.withdrawn.serial, "reason": one.withdrawn.reason, "by": one.withdrawn.by},
            }
            for one in found
        ]
        say_json({"schema": 1, "entries": listed})
        return
    if not found:
        say("nothing is logged")
        return
    rows = [[f"{one.serial}{'*' if one.withdrawn else ''}", str(one.day), one.kind, told(one), one.by] for one in found]
    table(["entry", "day", "kind", "what", "by"], rows, keep=[0, 1])
    if any(one.withdrawn for one in found):
        talk("* = withdrawn: it counts nowhere")


def withdraw(
    context: typer.Context,
    serial: Annotated[
        str, typer.Argument(metavar="SERIAL", autocompletion=completing.entries, help="Of the entry, such as E-000012.")
    ],
    reason: Annotated[str | None, typer.Option("--reason", metavar="WORDS", help="What was wrong with it.")] = None,
    by: Annotated[
        str | None,
        typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who withdraws it, by id."),
    ] = None,
) -> None:
    """Withdraw an entry of the shop log.

    It stays readable, and counts nowhere any more.

    Example: swathbook withdraw E-000012 --reason 'typed twice' --by ines
    """
    from records.services.logbook import withdraw as withdraw_entry

    run = application(context)
    done = withdraw_entry(run.book(), run.clock, serial, reason, by)
    of = done.body["data"]["of"]
    if state_of(context).json:
        say_json({"schema": 1, "event": done.serial, "withdrawn": of})
    else:
        talk(f"{done.serial}: {of} is withdrawn; it counts nowhere now, and stays readable")
