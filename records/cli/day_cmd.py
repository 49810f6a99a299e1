"""The day: stops, tanks, looks and duties on one screen; and stops to make."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import command, counted, say, say_json, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.daily.screen import Day, DayStop

HELP = """Show the day: stops, tanks, looks and duties.

Alone, it is about today. Stops are those planned with `day add` and those already closed; the next three stand there in
full, `swathbook notify SITE --on DAY` and `swathbook last SITE` tell all of one.

Example: swathbook day
"""
FULL, LOOKS, DUTIES = 3, 3, 3  # stops in full, looks, duties on the screen of a day
group = typer.Typer(help=HELP, invoke_without_command=True, rich_markup_mode=None)


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="day")


@group.callback()
def day(
    context: typer.Context,
    on: Annotated[
        str | None, typer.Option("--on", metavar="DAY", help="Like 2026-05-14, today or tomorrow; else today.")
    ] = None,
) -> None:
    """Show a day."""
    if context.invoked_subcommand is not None:
        return
    from records.services.daily.screen import day_of
    from records.services.daily.words import day_document

    run = application(context)
    found = day_of(run.book(), run.clock, on)
    if state_of(context).json:
        say_json(day_document(found))
        return
    _tell(found)


@group.command("add")
def add(
    context: typer.Context,
    sites: Annotated[
        list[str],
        typer.Argument(
            metavar="SITE...", autocompletion=completing.sites, help="In driving order; parts of addresses do."
        ),
    ],
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="Day of the work; else today.")] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="HH:MM", help="When the first begins.")] = None,
    why: Annotated[str | None, typer.Option("--for", metavar="WORDS", help="What for, in a few words.")] = None,
    by: Annotated[
        str | None, typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who goes, by id.")
    ] = None,
) -> None:
    """Plan stops of a day, in driving order.

    A stop is moved with `swathbook postpone`, and taken off with `swathbook withdraw`.

    Example: swathbook day add lark-lane-7 '58 Quarry' --on 2026-10-28 --at 08:30 --for 'ground ivy'
    """
    from records.services.daily.planned import add_stops

    run = application(context)
    done = add_stops(run.book(), run.clock, sites, on, time=at, why=why, by=by)
    if state_of(context).json:
        say_json({"schema": 1, "stops": [{"event": one.serial, "site": one.site, "day": str(one.day)} for one in done]})
        return
    for one in done:
        talk(f"{one.serial}: {one.address} ({one.site}) on {one.day}{' at ' + one.time if one.time else ''}")


def _tell(found: Day) -> None:
    """Say the day, most urgent first: a screen of 80 by 24 has to hold an ordinary one."""
    open_stops = [stop for stop in found.stops if stop.state == "open"]
    made = sum(stop.state == "made" for stop in found.stops)
    count = f"{counted(len(found.stops), 'stop')}, {made} made" if found.stops else "no stops"
    say(wrapped(f"{found.day:%A %Y-%m-%d}, {found.firm}: {count}"))
    for number, stop in enumerate(open_stops):
        _tell_open(stop, is_full=number < FULL)
    for stop in found.stops:
        if stop.state != "open":
            _tell_closed(stop)
    if not found.stops:
        say("  plan them with: swathbook day add SITE...")
    _tell_waiting(found)
    _tell_tanks(found)
    _tell_looks(found)
    if found.duties:
        say("Due within 7 days")
        for duty in found.duties[:DUTIES]:
            say(wrapped(f"{duty.day:%m-%d} {duty.what}", "        ", "  "))
            say(command(duty.do, "        > "))
        if len(found.duties) > DUTIES:
            say(f"  and {len(found.duties) - DUTIES} more: swathbook duty")


def _tell_open(stop: DayStop, *, is_full: bool) -> None:
    """Say a stop to make; of those far down the day, what cannot wait until then."""
    planned = stop.planned
    when = (planned.time if planned is not None else "") or "--:--"
    why = f": {planned.why}" if planned is not None and planned.why else ""
    say(wrapped(f"{stop.address} ({stop.site}){why}", "        ", f"  {when} "))
    if planned is not None and planned.moved is not None:
        say(f"        {'put off' if planned.moved < planned.day else 'brought forward'} from {planned.moved}")
    for name in stop.to_tell:
        say(wrapped(f"TELL FIRST: {name}", "          ", "        "))
    place = "; ".join(filter(None, (stop.landmark, stop.notes)))
    for word, text in (("note:", place), ("last", stop.last)):
        if text and is_full:
            say(wrapped(f"{word} {text}", "          ", "        "))


def _tell_closed(stop: DayStop) -> None:
    """Say a stop that was made or put off, on one line where that is enough."""
    planned = stop.planned
    if not stop.made:
        to = planned.moved if planned is not None else None
        say(wrapped(f"{stop.address} ({stop.site}): put off to {to}", "        ", "  off   "))
        return
    done = f"{stop.address} ({stop.site}): {', '.join(stop.products)}; {', '.join(stop.made)} by {stop.applicator}"
    say(wrapped(f"{done}{'; NOTICE OWED' if stop.notice_owed else ''}", "        ", f"  {stop.started} made "))


def _tell_waiting(found: Day) -> None:
    """Say what was left undone: entries that are held, notices of the days before."""
    if found.held:
        say(f"Held, not sealed yet ({len(found.held)})")
        for entry in found.held:
            say(f"  {entry.number} {entry.document.get('site') or 'no site'}: swathbook held show {entry.number}")
    if found.owed:
        say(f"Notices owed of the two weeks before ({len(found.owed)}): swathbook deliveries --missing")


def _tell_tanks(found: Day) -> None:
    from records.services.mixing.words import left_in

    if found.tanks:
        say("In the tanks")
    for tank in found.tanks:
        told = tank.ledger
        what = ", ".join(part.product for part in told.parts)
        about = f"{told.mix.equipment}: {left_in(told)} of {told.mix.id} ({what}), made {told.made_at:%Y-%m-%d}"
        say(wrapped(about, "        ", "  "))


def _tell_looks(found: Day) -> None:
    from records.services.follow_up.looking import look_words

    if not found.looks:
        return
    late = sum(one.day < found.day for one in found.looks)
    more = ": swathbook looks" if len(found.looks) > LOOKS else ""
    say(f"Look again ({counted(len(found.looks), 'look')}{f', {late} overdue' if late else ''}){more}")
    for one in found.looks[:LOOKS]:
        say(wrapped(look_words(one), "        ", "  "))
