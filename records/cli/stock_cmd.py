"""Stock: bought, used, disposed of, counted; and whether it adds up with the records."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.amount_group import AmountGroup
from records.cli.output import pairs, say, say_json, table, talk, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.ports import StoredRevision
    from records.services.stocking import Stock, StockLine


class _Group(AmountGroup):
    """A group in which a first word that is no command names a product."""

    def parse_args(self, ctx: typer.Context, args: list[str]) -> list[str]:  # type: ignore[override]
        """Put `show` before a product."""
        if args and args[0] not in self.commands and not args[0].startswith("-"):
            args = ["show", *args]
        return super().parse_args(ctx, args)


HELP = """Tell whether stock, mixes and records add up.

Alone, it lists every product: bought - used - disposed - in mixes - on hand = gap. With a product, its lots.

Example: swathbook stock brindle-4l
"""
group = typer.Typer(cls=_Group, help=HELP, invoke_without_command=True, rich_markup_mode=None)
Product = Annotated[
    str, typer.Argument(metavar="PRODUCT", autocompletion=completing.products, help="Its id in the catalogue.")
]
At = Annotated[
    str | None, typer.Option("--at", metavar="DAY", help="The day, or the moment like 2026-05-14T07:30; else now.")
]
By = Annotated[
    str | None, typer.Option("--by", metavar="PERSON", autocompletion=completing.people, help="Who did it, by id.")
]


def register(app: typer.Typer) -> None:
    """Add the group."""
    app.add_typer(group, name="stock")


@group.callback()
def stock(context: typer.Context) -> None:
    """List the stock of every product."""
    if context.invoked_subcommand is None:
        show(context)


@group.command("show")
def show(
    context: typer.Context,
    product: Annotated[
        str | None,
        typer.Argument(metavar="[PRODUCT]", autocompletion=completing.products, help="One product, with its lots."),
    ] = None,
) -> None:
    """Show the stock: bought - used - disposed - in mixes - on hand = gap.

    On hand is what was counted last, brought forward; where nothing was counted, what the books say. A gap is shown
    and explained. Where a product would have less than nothing on hand, no account can close: the exit code is 1.

    Example: swathbook stock show brindle-4l
    """
    from records.services.calibrating import calibrations
    from records.services.stocking import stock as stock_of
    from records.services.stocking.words import calibration_words, stock_document

    run = application(context)
    with run.book().read() as work:
        found = stock_of(work, run.clock.now(), product)
    calibrated = calibrations(run.book(), run.clock) if product is None else []
    if state_of(context).json:
        say_json({"schema": 1, **stock_document(found), "calibrations": [line.document() for line in calibrated]})
    elif product is not None:
        _tell_one(found.lines[0], found)
    else:
        _tell(found)
        if told := calibration_words(calibrated):
            say(wrapped(told, "       ", "  calibration "))
    if not found.closes:
        raise typer.Exit(1)


def _tell(found: Stock) -> None:
    from records.services.stocking.words import PARTS, figures, gap_text, verdict

    if not found.lines:
        say("nothing is bought, mixed or used yet: swathbook stock buy")
        return
    say(wrapped(f"stock of {found.day} {verdict(found)}", "  ", ""))
    rows = []
    for line in found.lines:
        numbers = figures(line)
        rows.append([line.product, line.unit, *(numbers[name] for name in PARTS[:-1]), gap_text(line)])
    head = ["product", "in", "bought", "used", "disposed", "in mixes", "on hand", "gap"]
    table(head, rows, right=range(2, 8), keep=[2, 3, 4, 5, 6, 7])
    notes: dict[str, list[str]] = {}
    for line in found.lines:
        for note in line.notes:
            notes.setdefault(note, []).append(line.product)
    for note, products in notes.items():
        say(wrapped(f"{', '.join(products)}: {note}", "       ", "  note "))
    for what in found.uncounted:
        say(wrapped(f"not counted: {what}", "       ", "  note "))


def _tell_one(line: StockLine, found: Stock) -> None:
    from records.services.stocking.words import containers, figures, gap_text, in_unit, known, lot_name

    numbers = {name: f"{number} {line.unit}" for name, number in figures(line).items()}
    pairs(
        [
            ("product", f"{line.name} ({line.product})"),
            ("bought", numbers["bought"]),
            ("- used", f"{numbers['used']} by {line.uses} application{'' if line.uses == 1 else 's'}"),
            ("- disposed", numbers["disposed"]),
            ("- in mixes", numbers["in_mixes"]),
            ("- on hand", f"{numbers['on_hand']}; {known(line)}"),
            ("= gap", gap_text(line) if gap_text(line) in {"-", "0"} else f"{gap_text(line)} {line.unit}"),
            ("containers", containers(line)),
        ]
    )
    say()
    rows = [
        [
            lot_name(lot),
            ", ".join(lot.labels),
            "" if lot.expires is None else str(lot.expires),
            in_unit(lot.bought, line.unit, line.places),
            in_unit(lot.used, line.unit, line.places),
            in_unit(lot.disposed, line.unit, line.places),
            in_unit(lot.left, line.unit, line.places),
        ]
        for lot in line.lots
    ]
    if rows:
        head = ["lot", "label", "good until", "bought", "used", "disposed", "left"]
        table(head, rows, right=range(3, 7), keep=[0, 2, 3, 4, 5, 6])
    for note in (*line.notes, *(f"not counted: {what}" for what in found.uncounted)):
        say(wrapped(note, "       ", "  note "))


@group.command("buy")
def buy(
    context: typer.Context,
    product: Product,
    packs: Annotated[str, typer.Argument(metavar="PACKS", help="Number and size, such as '2 x 2.5 gal'.")],
    lot: Annotated[
        str | None, typer.Option("--lot", metavar="LOT", autocompletion=completing.lots, help="On the container.")
    ] = None,
    label: Annotated[
        str | None, typer.Option("--label", metavar="REVISION", help="Of the label on the container.")
    ] = None,
    price: Annotated[str | None, typer.Option("--price", metavar="USD", help="Of one pack, such as 184.50.")] = None,
    total: Annotated[bool, typer.Option("--total/--each", help="Whether the price is that of all packs.")] = False,
    expires: Annotated[str | None, typer.Option("--expires", metavar="DAY", help="Last day of use.")] = None,
    supplier: Annotated[str | None, typer.Option("--supplier", metavar="NAME", help="Who sold it.")] = None,
    at: At = None,
    by: By = None,
) -> None:
    """Log a purchase.

    Example: swathbook stock buy brindle-4l '2 x 2.5 gal' --lot B2401 --label 2025-11 --price 184.50
    """
    from records.services.stocking import log_bought

    run = application(context)
    with run.book().write() as work:
        event, notes = log_bought(
            work,
            run.clock.now(),
            product,
            packs,
            lot=lot,
            label=label,
            price=price,
            is_total=total,
            expires=expires,
            supplier=supplier,
            at=at,
            by=by,
        )
        work.commit()
    _logged(context, event, notes)


@group.command("discard")
def discard(
    context: typer.Context,
    product: Product,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Undiluted, such as '12 fl oz'.")],
    how: Annotated[
        str | None, typer.Option("--how", metavar="WORDS", help="Such as 'collection day' or 'given back'.")
    ] = None,
    reason: Annotated[str | None, typer.Option("--reason", metavar="WORDS", help="Why.")] = None,
    lot: Annotated[
        str | None, typer.Option("--lot", metavar="LOT", autocompletion=completing.lots, help="On the container.")
    ] = None,
    at: At = None,
    by: By = None,
) -> None:
    """Log that undiluted product was disposed of, spilled or given back.

    Example: swathbook stock discard brindle-4l '12 fl oz' --how 'collection day' --reason 'past its day'
    """
    from records.services.stocking import log_disposed

    run = application(context)
    with run.book().write() as work:
        event, notes = log_disposed(
            work, run.clock.now(), product, amount, how=how, reason=reason, lot=lot, at=at, by=by
        )
        work.commit()
    _logged(context, event, notes)


@group.command("count")
def count(
    context: typer.Context,
    product: Product,
    amount: Annotated[str, typer.Argument(metavar="AMOUNT", help="Undiluted, such as '3.5 gal' or '3 x 2.5 gal'.")],
    at: At = None,
    by: By = None,
) -> None:
    """Log how much is on hand, as counted; what stands in mixes is not in it.

    Example: swathbook stock count brindle-4l '3.5 gal'
    """
    from records.services.stocking import log_counted

    run = application(context)
    with run.book().write() as work:
        event = log_counted(work, run.clock.now(), product, amount, at=at, by=by)
        work.commit()
    _logged(context, event)


@group.command("empty")
def empty(
    context: typer.Context,
    product: Product,
    number: Annotated[str, typer.Argument(metavar="N", help="How many containers.")],
    rinsed: Annotated[
        bool | None,
        typer.Option("--rinsed/--not-rinsed", help="Whether they were rinsed as the label says; else it is not said."),
    ] = None,
    how: Annotated[str | None, typer.Option("--how", metavar="WORDS", help="Where they went.")] = None,
    at: At = None,
    by: By = None,
) -> None:
    """Log that containers were emptied, and whether they were rinsed.

    Example: swathbook stock empty brindle-4l 2 --rinsed --how 'holed, county drop-off'
    """
    from records.services.stocking import log_emptied

    run = application(context)
    with run.book().write() as work:
        event, notes = log_emptied(work, run.clock.now(), product, number, is_rinsed=rinsed, how=how, at=at, by=by)
        work.commit()
    _logged(context, event, notes)


def _logged(context: typer.Context, event: StoredRevision, notes: list[str] | None = None) -> None:
    words = event.body["data"]["words"]
    if state_of(context).json:
        say_json({"schema": 1, "event": event.serial, "words": words, "notes": notes or []})
        return
    talk(wrapped(f"{event.serial}: {words}", "  "))
    for note in notes or []:
        talk(wrapped(note, "       ", "  note "))
