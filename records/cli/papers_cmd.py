"""Where label and safety data sheet of a product are, by number and lot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from records.cli import completing
from records.cli.output import counted, pairs, say, say_json, table, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from records.services.papers import LotPapers, Papers, Revision


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("papers")(papers)


def papers(
    context: typer.Context,
    product: Annotated[
        str | None,
        typer.Argument(
            metavar="[PRODUCT]", autocompletion=completing.products, help="By id, name or registration number."
        ),
    ] = None,
    lot: Annotated[
        str | None,
        typer.Option("--lot", metavar="LOT", autocompletion=completing.lots, help="This lot only; finds its product."),
    ] = None,
) -> None:
    """Tell where label and data sheet are, by number or lot.

    Every label revision that the book has had, with the records judged by it; the safety data sheet; each lot with its
    purchase and the records that used it: with --lot all of them, with day, site, address and amount.

    Example: swathbook papers 99999-41 --lot B2311
    """
    from records.services.papers import papers as look
    from records.services.papers import papers_document

    found = look(application(context).book(), product, lot)
    if state_of(context).json:
        say_json(papers_document(found))
    else:
        _tell(found)


def _tell(found: Papers) -> None:
    product = found.product
    number = product.registration or (f"exempt: {product.exemption}" if product.exemption else "no registration number")
    say(wrapped(f"{product.name} ({product.id}), {number}", "  ", ""))
    pairs(
        [
            ("form", product.form.value),
            ("signal word", product.signal_word or "not recorded"),
            ("data sheet", product.sds or 'not recorded: load the product with sds = "where it is kept"'),
        ]
    )
    for one in found.revisions:
        _tell_revision(one)
    if not found.revisions:
        say("  no label is in the book")
    if found.unnamed:
        none = counted(found.unnamed, "record")
        say(wrapped(f"{none} without a label revision: imported, or closed before one was loaded", "    ", "  "))
    if found.shared:
        say(wrapped(f"the same federal number: {', '.join(found.shared)}", "    ", "  "))
    for lot in found.lots:
        _tell_lot(lot, is_asked=bool(found.asked_lot))


def _tell_revision(one: Revision) -> None:
    newest = ", the one the book checks by" if one.is_newest else ""
    loaded = f"loaded {one.loaded}" if one.loaded else "named by records, never loaded"
    say(wrapped(f"label {one.revision}{newest}: {loaded}", "    ", "  "))
    copy = one.copy or 'not recorded: load the label with copy = "where it is kept"'
    say(wrapped(f"copy: {copy}", "      ", "    "))
    if one.records:
        first, last = (f"{serial} of {day}" for serial, day in zip(one.serials, (one.first, one.last), strict=True))
        span = first if one.records == 1 else f"{first} to {last}"
        say(wrapped(f"judged {counted(one.records, 'record')}: {span}", "      ", "    "))


def _tell_lot(lot: LotPapers, *, is_asked: bool) -> None:
    from records.services.papers import NEWEST

    say(f"  lot {lot.lot}")
    for one in lot.bought:
        label = f", label {one.label} on it" if one.label else ""
        ends = f", to be used until {one.expires}" if one.expires else ""
        say(wrapped(f"bought {one.day}: {one.packs} x {one.size}{label}{ends} ({one.serial})", "      ", "    "))
    if not lot.bought:
        say("    no purchase of it is logged")
    used = f"used in {counted(len(lot.records), 'record')}"
    if not lot.records:
        say("    no record names it")
    elif is_asked:
        say(f"    {used}")
        head = ["record", "date", "site", "address", "amount"]
        rows = [
            [one.serial, one.day or "-", one.site or "-", one.address or "-", one.amount or "-"] for one in lot.uses
        ]
        table(head, rows, right=[4], keep=[0, 1, 4])
    else:
        more = f" and {len(lot.records) - NEWEST} more: --lot {lot.lot}" if len(lot.records) > NEWEST else ""
        say(wrapped(f"{used}: {', '.join(lot.records[:NEWEST])}{more}", "      ", "    "))
