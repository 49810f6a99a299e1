"""Active ingredient by the acre, both ways; and what is put out of it on a site, with what labels still allow."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli import completing
from records.cli.output import counted, pairs, say, say_json, table, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from records.domain.product import Active, Product
    from records.domain.quantities import Form
    from records.rules.allowances import Allowance, Left, Room
    from records.services.actives import ActivePut


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.command("active")(active)
    app.command("actives")(actives)


def active(
    context: typer.Context,
    words: Annotated[
        list[str] | None,
        typer.Argument(metavar="[PRODUCT] [RATE]", autocompletion=completing.products, help="Product id; its rate."),
    ] = None,
    want: Annotated[str | None, typer.Option("--want", metavar="RATE", help="Active wanted: 1.5 lb/acre.")] = None,
    content: Annotated[
        str | None, typer.Option("--content", metavar="CONTENT", help="Without a product: 4 lb/gal, 75 %.")
    ] = None,
    form: Annotated[str | None, typer.Option("--form", metavar="FORM", help="liquid, dry or granule.")] = None,
    basis: Annotated[str | None, typer.Option("--basis", metavar="ai|ae", help="What --content is given as.")] = None,
    density: Annotated[
        str | None, typer.Option("--density", metavar="DENSITY", help="Of a liquid given in per cent: 9.2 lb/gal.")
    ] = None,
) -> None:
    """Turn a rate of product into active ingredient, or back.

    The basis, active ingredient (a.i.) or acid equivalent (a.e.), is that of the content.

    Example: swathbook active brindle-4l '3 pt/acre'
    """
    from records.services.strength import given_content, parts_of

    rest = list(words or [])
    if content is None:
        from records.errors import UsageError
        from records.services.directory import Directory
        from records.services.occasions import product_of

        if not rest:
            raise UsageError("no product is named", "Name one of the book, or give --content and --form")
        with application(context).book().read() as work:
            product = product_of(Directory(work.catalogue), rest.pop(0))
        name, kind, held = product.name, product.form, product.actives
    else:
        product = None
        kind, held = given_content(content, form, basis, density)
        name = f"{content}, {kind.value}"
    rate = parts_of(rest, want, held, name)
    if state_of(context).json:
        rows = _rows(kind, held, rate, want, product)
        say_json({"schema": 1, "product": name, "rate": rate, "want": want, "actives": rows})
    else:
        _tell_active(name, _rows(kind, held, rate, want, product), rate, want)


def _basis(stated: str) -> str:
    return {"ai": "a.i.", "ae": "a.e."}.get(stated, stated)


def _rows(
    kind: Form, held: tuple[Active, ...], rate: str | None, want: str | None, product: Product | None
) -> list[dict[str, Any]]:
    from records.services.strength import actives_of, products_of

    if want is None:
        return actives_of(kind, held, rate or "", product)
    return products_of(kind, held, want, product)


def _tell_active(name: str, rows: list[dict[str, Any]], rate: str | None, want: str | None) -> None:
    if want is None:
        say(f"{name} at {rate}")
        table(
            ["active", "content", "lb/acre", "lb/1000 sq ft", "basis"],
            [[r["active"], r["content"], r["lb_per_acre"], r["lb_per_1000_sq_ft"], _basis(r["basis"])] for r in rows],
            right=[2, 3],
            keep=[2, 3, 4],
        )
        for over in dict.fromkeys(row["over_label"] for row in rows if row["over_label"]):
            say(wrapped(f"over the label: {over}", "       ", "  note "))
        return
    for row in rows:
        say(f"{name} for {want} {_basis(row['basis'])} of {row['active']} ({row['content']})")
        pairs([(unit, value) for unit, value in row["product"].items()], gap=20)
        if row["over_label"]:
            say(wrapped(f"over the label: {row['over_label']}", "       ", "  note "))


def actives(
    context: typer.Context,
    site: Annotated[
        str,
        typer.Argument(metavar="SITE", autocompletion=completing.sites, help="The site by id, or part of its address."),
    ],
    zone: Annotated[
        str | None, typer.Option("--zone", metavar="ZONE", autocompletion=completing.zones, help="This zone only.")
    ] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="The day that is planned; today.")] = None,
) -> None:
    """Show actives put on a site, and what labels still allow.

    Sums are lb for each acre of the zone, in the label's own window, all products together; the first lawful day counts
    interval, number and amounts.

    Example: swathbook actives lark-lane-7 --on 2026-10-27
    """
    from datetime import UTC
    from zoneinfo import ZoneInfo

    from records.services.actives import put_out
    from records.services.directory import Directory
    from records.services.finding import read_day
    from records.services.nutrients import site_zone
    from records.services.occasions import site_of

    run = application(context)
    with run.book().read() as work:
        place = site_of(Directory(work.catalogue), site)[0]
        if zone is not None:
            site_zone(place, zone)
        now = run.clock.now().astimezone(ZoneInfo(place.timezone) if place.timezone else UTC)
        day = read_day(on) or now.date()
        found = put_out(work, place, day, zone or "")
    if state_of(context).json:
        say_json({"schema": 1, "site": place.id, "day": day.isoformat(), "actives": [_put_document(o) for o in found]})
        return
    if not found:
        say(f"no active is recorded on {place.id}" + (f", {zone}" if zone else ""))
        return
    _tell_puts(place.id, str(day), found)


def acre(value: Fraction) -> str:
    """Write lb per sq ft as lb per acre."""
    from records.domain.quantities import decimal_text

    return decimal_text(value * 43560, 3)


def _put(one: ActivePut) -> str:
    most = acre(one.put_most)
    if one.put is None:
        return f"up to {most} lb/acre (the zone is not measured)"
    sure = acre(one.put)
    return f"{sure} lb/acre" if sure == most else f"{sure} lb/acre; {most} where spots overlap"


def _put_document(one: ActivePut) -> dict[str, Any]:
    return {
        "zone": one.zone,
        "active": one.active,
        "basis": one.basis,
        "window": one.window,
        "lb_per_acre_certain": None if one.put is None else acre(one.put),
        "lb_per_acre_possible": acre(one.put_most),
        "without_amount": one.unknown,
        "records": list(one.serials),
        "days": [day.isoformat() for day in one.days],
        "ceilings": [_left_document(line) for line in one.ceilings],
        "products": [allowance_document(product) for product in one.products],
    }


def _left_document(line: Left) -> dict[str, Any]:
    return {
        "of": line.what,
        "basis": line.basis,
        "window": line.window,
        "limits": [str(limit) for limit in line.limits],
        "left": [line.left_on(limit) for limit in line.limits],
        "label": line.source,
    }


def allowance_document(one: Allowance) -> dict[str, Any]:
    """Return an allowance as a document."""
    return {
        "product": one.product,
        "zone": one.zone,
        "day": one.day.isoformat(),
        "product_left": [_left_document(line) for line in one.product_left],
        "actives_left": [_left_document(line) for line in one.actives_left],
        "applications": one.applications,
        "applications_left": one.applications_left,
        "first_day": None if one.first_day is None else one.first_day.isoformat(),
        "because": list(one.because),
        "label": one.source,
        "left": None if one.room is None else _room_document(one.room),
        "lowest_rate": None if one.least is None else str(one.least),
        "lowest_rate_fits_from": None if one.fits_from is None else one.fits_from.isoformat(),
    }


def _tell_puts(site: str, day: str, found: list[ActivePut]) -> None:
    say(f"ACTIVES on {site}, for {day}")
    zone, told = "", set[str]()
    for one in found:
        if one.zone != zone:
            zone, told = one.zone, set()
            say(f"\n{zone}")
        basis = f" ({_basis(one.basis)})" if one.basis else " (basis not recorded)"
        say(wrapped(f"{one.active}{basis} in {one.window}: {_put(one)}", "      ", "  "))
        if one.days:
            say(wrapped(_days(one.days), "        ", "      "))
        if one.unknown:
            say(f"      {one.unknown} without a known amount or area: not in the sum")
        labels: dict[str, list[str]] = {}
        for line in one.ceilings:
            labels.setdefault(f"{line.window}: {left_words(line)}", []).append(line.source)
        for text, sources in labels.items():
            left = text.removeprefix(f"{one.window}: ")
            say(wrapped(f"left {left} [{'; '.join(sources)}]", "        ", "      "))
        for product in one.products:
            if product.product not in told:
                told.add(product.product)
                _tell_product(product)


def _days(days: tuple[date, ...]) -> str:
    """Write the days on which it went on, with the days between."""
    later = (f"{day} ({counted((day - before).days, 'day')} later)" for before, day in pairwise(days))
    return f"put on {', '.join([str(days[0]), *later])}"


def left_words(line: Left) -> str:
    """Write what is left of a ceiling on every basis it is printed on."""
    return " or ".join(f"{line.left_on(limit)} of {limit}" for limit in line.limits)


def _room_document(room: Room) -> dict[str, Any]:
    return {
        "product": str(room),
        "by": room.ceiling.what,
        "of": [str(limit) for limit in room.ceiling.limits],
        "label": room.ceiling.source,
    }


def _first_words(one: Allowance) -> str:
    """Write from which day on it may go on again: at the label's lowest rate, and less than that where it is sooner."""
    if one.fits_from is not None and one.fits_from == one.first_day:
        return f"next from {one.first_day}"
    if one.first_day is None:
        return "no lawful day is found"
    least = f"the label's lowest rate, {one.least}"
    if one.fits_from is None:
        return f"next from {one.first_day}, but {least}, is over what is left"
    return f"next from {one.fits_from} at {least}"


def _tell_product(one: Allowance) -> None:
    left = []
    if one.room is not None:
        by = one.room.ceiling
        held = f" left, by {by.best} of {by.what} in {by.window}" if by.basis else " left"
        left.append(f"{one.room}{held}")
    if one.applications is not None:
        left.append(f"{one.applications_left} of {counted(one.applications, 'application')} left")
    say(wrapped("; ".join([f"{one.name}: {_first_words(one)}", *left]), "        ", "    > "))
    for reason in one.because:
        say(wrapped(reason, "          ", "        - "))
