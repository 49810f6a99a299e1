"""Loads: made up, used stop by stop, left over, carried on, rinsed out and disposed of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.amount_group import AmountGroup
from records.cli.output import pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.mixing import Ledger

HELP = """Tell which mix is in which tank, and how much is left.

Alone, it lists the loads. Each has an account: made, used stop by stop, carried on, disposed of, left.

Example: swathbook mix
"""
group = typer.Typer(cls=AmountGroup, help=HELP, invoke_without_command=True, rich_markup_mode=None)
At = Annotated[str | None, typer.Option("--at", metavar="WHEN", help="Like 2026-05-14T07:30 or 07:30; else now.")]
By = Annotated[
    str | None, typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who did it, by id.")
]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="mix")


@group.callback()
def mix(context: typer.Context) -> None:
    """List the loads."""
    if context.invoked_subcommand is None:
        list_loads(context)


@group.command("list")
def list_loads(
    context: typer.Context,
    equipment: Annotated[
        str | None,
        typer.Option(
            "--equipment", metavar="ID", autocompletion=completing.equipment, help="Only loads made up in this tank."
        ),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="All of them, not the newest 20.")] = False,
) -> None:
    """List the loads, newest first: which is in which tank, and how much of it is left.

    Example: swathbook mix list --equipment skid-1
    """
    from records.services.mixing import loads
    from records.services.mixing.ledger import LISTED
    from records.services.mixing.words import left_in, tank_document, where

    with application(context).book().read() as work:
        found = loads(work, equipment=equipment, limit=None if everything else LISTED)
    if state_of(context).json:
        say_json({"schema": 1, "mixes": [tank_document(one) for one in found]})
        return
    if not found:
        say("no load is made up yet: swathbook mix make")
        return
    rows = [
        [
            one.ledger.mix.id,
            f"{one.ledger.made_at:%m-%d %H:%M}",
            where(one),
            str(one.ledger.mix.water),
            left_in(one.ledger),
            ", ".join(part.product for part in one.ledger.parts),
        ]
        for one in found
    ]
    table(["mix", "made", "where", "spray", "left", "products"], rows, right=[3, 4], keep=[0, 1, 3, 4])
    for one in found:
        for note in one.notes:
            say(wrapped(note, "       ", "  note "))


@group.command("show")
def show(
    context: typer.Context,
    mix_id: Annotated[str, typer.Argument(metavar="ID", autocompletion=completing.mixes, help="Of the load.")],
) -> None:
    """Show the account of a load: made, used at each stop, carried on, disposed of, left, unaccounted.

    Each stop takes its share of every product: product in the mix x spray used there / spray made.

    Example: swathbook mix show mix-0512
    """
    from records.services.mixing import ledger
    from records.services.mixing.words import ledger_document

    with application(context).book().read() as work:
        told = ledger(work, mix_id)
    if state_of(context).json:
        say_json({"schema": 1, **ledger_document(told)})
    else:
        _tell(told)


def _tell(told: Ledger) -> None:
    from records.services.mixing.words import PARTS, SHOWN, amount, figures, known, when

    pairs(
        [
            ("mix", told.mix.id),
            ("made", f"{when(told)}, {told.mix.water} of spray"),
            ("tank", told.mix.equipment),
            ("carried in", ", ".join(f"{one.spray} of {one.mix}" for one in told.mix.carried)),
            ("carried on", ", ".join(f"{spray} into {mix}" for mix, spray in told.carried)),
            ("left", known(told)),
        ]
    )
    say()
    head = ["record", "begun", "site", "spray", *(part.product for part in told.parts)]
    if told.stops:
        rows = [
            [
                stop.serial,
                "" if stop.at is None else f"{stop.at:%m-%d %H:%M}",
                stop.site or stop.address,
                str(stop.spray),
                *(amount(share) for share in stop.shares),
            ]
            for stop in told.stops
        ]
        table(head, rows, right=range(3, len(head)), keep=[0, 1, 3])
    else:
        say("no stop has taken of it yet")
    say()
    columns = [figures(told.balance, told.mix.water.unit, SHOWN)]
    columns += [
        figures(one.balance, one.unit, SHOWN) if one.made is not None and one.unit != "oz" else {}
        for one in told.products
    ]
    words = dict(zip(PARTS, ("made", "used", "rinsed, disposed", "carried on", "left", "unaccounted"), strict=True))
    rows = [[words[name], *(column.get(name, "?") for column in columns)] for name in PARTS]
    table(["", "spray", *(part.product for part in told.parts)], rows, right=range(1, len(columns) + 1), keep=[0, 1])
    for entry in told.log:
        say(wrapped(f"{entry.at:%m-%d %H:%M} {entry.data['words']} ({entry.serial})", "    ", "  "))


@group.command("make")
def make(
    context: typer.Context,
    mix_id: Annotated[str, typer.Argument(metavar="ID", help="A short name for the load, such as mix-0514.")],
    spray: Annotated[
        str, typer.Option("--spray", metavar="AMOUNT", help="Finished spray in the tank, leftovers included.")
    ],
    equipment: Annotated[
        str | None, typer.Option("--equipment", metavar="ID", autocompletion=completing.equipment, help="The tank.")
    ] = None,
    product: Annotated[
        list[str] | None,
        typer.Option(
            "--product",
            metavar="ID=AMOUNT[:LOT]",
            autocompletion=completing.products,
            help="Like 'brindle-4l=27.5 fl oz:B2311'; may repeat.",
        ),
    ] = None,
    carried: Annotated[
        list[str] | None,
        typer.Option(
            "--carried",
            metavar="MIX=AMOUNT",
            autocompletion=completing.mixes,
            help="Leftover of an earlier load; may repeat.",
        ),
    ] = None,
    at: At = None,
) -> None:
    """Write down a load as it is made up.

    A leftover that goes into it brings its products by their share, and with them what their labels forbid.

    Example: swathbook mix make mix-0514 --equipment skid-1 --spray '50 gal' --product 'brindle-4l=27.5 fl oz:B2311'
    """
    from zoneinfo import ZoneInfo

    from records.services.directory import Directory
    from records.services.mixing import ledger, make
    from records.services.mixing.making import document_of
    from records.services.mixing.words import ledger_document
    from records.services.occasions import firm_of

    run = application(context)
    now = run.clock.now()
    with run.book().write() as work:
        business, _ = firm_of(Directory(work.catalogue))
        document = document_of(
            mix_id,
            equipment=equipment,
            spray=spray,
            products=product or [],
            carried=carried or [],
            at=at,
            zone=ZoneInfo(business.timezone),
            now=now,
        )
        made = make(work, now, document)
        told = ledger(work, made.mix.id)
        work.commit()
    if state_of(context).json:
        say_json({"schema": 1, "version": made.version, "notes": list(made.notes), **ledger_document(told)})
        return
    parts = [f"{part.product} {part.amount}" + (f" (lot {part.lot})" if part.lot else "") for part in told.parts]
    talk(wrapped(f"{made.mix.id}: {made.mix.water} of spray with {', '.join(parts)}", "  "))
    for note in made.notes:
        talk(wrapped(note, "       ", "  note "))


@group.command("left")
def left(
    context: typer.Context,
    mix_id: Annotated[str, typer.Argument(metavar="ID", autocompletion=completing.mixes, help="Of the load.")],
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Finished spray left, such as '3 gal'.")],
    at: At = None,
    by: By = None,
) -> None:
    """Log how much of a load is left, as the gauge shows it.

    Example: swathbook mix left mix-0514 '3 gal' --at 16:40
    """
    from records.services.mixing import log_left

    run = application(context)
    with run.book().write() as work:
        event, notes = log_left(work, run.clock.now(), mix_id, amount, at=at, by=by)
        work.commit()
    _logged(context, event.serial, event.body["data"]["words"], notes)


@group.command("rinse")
def rinse(
    context: typer.Context,
    name: Annotated[
        str,
        typer.Argument(
            metavar="EQUIPMENT|ID",
            autocompletion=completing.equipment_or_mixes,
            help="The tank, or the load that was in it.",
        ),
    ],
    times: Annotated[int, typer.Option("--times", metavar="N", help="How often it was rinsed.")] = 1,
    water: Annotated[str | None, typer.Option("--water", metavar="AMOUNT", help="Water for each time.")] = None,
    spray: Annotated[
        str | None, typer.Option("--spray", metavar="AMOUNT", help="What was left of the load and went with the water.")
    ] = None,
    how: Annotated[
        str | None, typer.Option("--how", metavar="WORDS", help="With what, and where the water went.")
    ] = None,
    at: At = None,
    by: By = None,
) -> None:
    """Log that a tank was rinsed; nothing of its last load is left then.

    Example: swathbook mix rinse skid-1 --times 3 --water '10 gal' --how 'sprayed on the last site'
    """
    from records.services.mixing import log_rinsed

    run = application(context)
    with run.book().write() as work:
        event, notes = log_rinsed(
            work, run.clock.now(), name, times=times, water=water, spray=spray, how=how, at=at, by=by
        )
        work.commit()
    _logged(context, event.serial, event.body["data"]["words"], notes)


@group.command("discard")
def discard(
    context: typer.Context,
    mix_id: Annotated[str, typer.Argument(metavar="ID", autocompletion=completing.mixes, help="Of the load.")],
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Finished spray, such as '2 gal'.")],
    how: Annotated[
        str | None, typer.Option("--how", metavar="WORDS", help="Such as 'sprayed on a labelled site', 'waste site'.")
    ] = None,
    at: At = None,
    by: By = None,
) -> None:
    """Log that a part of a load was disposed of, and how.

    Example: swathbook mix discard mix-0514 '2 gal' --how 'waste site'
    """
    from records.services.mixing import log_discarded

    run = application(context)
    with run.book().write() as work:
        event, notes = log_discarded(work, run.clock.now(), mix_id, amount, how=how, at=at, by=by)
        work.commit()
    _logged(context, event.serial, event.body["data"]["words"], notes)


def _logged(context: typer.Context, serial: str, words: str, notes: list[str]) -> None:
    if state_of(context).json:
        say_json({"schema": 1, "event": serial, "words": words, "notes": notes})
        return
    talk(wrapped(f"{serial}: {words}", "  "))
    for note in notes:
        talk(wrapped(note, "       ", "  note "))
