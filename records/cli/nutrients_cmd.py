"""Nitrogen, phosphate and potash: what went on a site's zones this year, what the law allows, and doses of product."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from records.cli import completing
from records.cli.days import firm_today
from records.cli.output import pairs, say, say_json, table, wrapped
from records.cli.state import application, state_of

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from records.services.nutrients import Dose, ZoneNutrients


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("nutrients")(nutrients)


def nutrients(
    context: typer.Context,
    what: Annotated[
        str | None,
        typer.Argument(
            metavar="[SITE|PRODUCT]",
            autocompletion=completing.sites_or_products,
            help="The site by id or part of its address; with --want the product.",
        ),
    ] = None,
    want: Annotated[
        str | None, typer.Option("--want", metavar="NUTRIENT", help="For each 1,000 sq ft: 1 lb N.")
    ] = None,
    area: Annotated[str | None, typer.Option("--area", metavar="AREA", help="With --want: 4,550 sq ft.")] = None,
    year: Annotated[
        int | None, typer.Option("--year", metavar="YEAR", min=1900, max=2200, help="Every zone fertilized that year.")
    ] = None,
    on: Annotated[str | None, typer.Option("--on", metavar="DAY", help="Whose law and year are told; today.")] = None,
) -> None:
    """Show nutrients put on zones, or a dose of fertilizer.

    Example: swathbook nutrients lark-lane-7

    Example: swathbook nutrients cobbet-wf --want '0.6 lb N' --area '4200 sq ft'
    """
    from records.errors import UsageError
    from records.services.finding import read_day

    run = application(context)
    if want is not None:
        if what is None:
            raise UsageError("--want needs a product", "swathbook nutrients PRODUCT --want '1 lb N'")
        _dose(context, what, want, area)
        return
    if (what is None) == (year is None):
        raise UsageError("name a site, or give --year", "swathbook nutrients SITE, or nutrients --year 2026")
    day = read_day(on) or firm_today(run)
    found = _found(context, what, year, day)
    if state_of(context).json:
        say_json(
            {"schema": 1, "year": year or day.year, "day": day.isoformat(), "zones": [_document(z) for z in found]}
        )
    elif what is None:
        _tell_year(found, year or day.year)
    else:
        _tell_site(found, day)


def _found(context: typer.Context, what: str | None, year: int | None, day: date) -> list[ZoneNutrients]:
    from records.services.directory import Directory
    from records.services.nutrients import of_site, of_year
    from records.services.occasions import site_of

    with application(context).book().read() as work:
        if what is None:
            return of_year(work, year or day.year, day)
        return of_site(work, site_of(Directory(work.catalogue), what)[0], day)


def _pounds(value: Fraction | None) -> str:
    from records.domain.nutrients import per_thousand

    return "" if value is None else per_thousand(value, 3)


def _document(one: ZoneNutrients) -> dict[str, Any]:
    return {
        "site": one.site,
        "zone": one.zone,
        "lb_per_1000_sq_ft": {
            name: {"certain": _pounds(sure) or None, "possible": _pounds(most)}
            for name, (sure, most) in one.put.items()
        },
        "without_weight": one.unknown,
        "records": list(one.serials),
        "products": list(one.products),
        "by_later_analysis": list(one.later),
        "law": one.law or None,
        "left_this_year": [
            {
                "nutrient": line.limit.nutrient,
                "most": str(line.limit.most),
                "left": line.limit.most.like(line.left),
                "source": line.limit.source.cited,
            }
            for line in one.standings
        ],
        "at_one_time": [{"rule": limit.told(), "source": limit.source.cited} for limit in one.once],
        "also": list(one.also),
    }


def _tell_site(found: list[ZoneNutrients], day: date) -> None:
    if not found:
        say("no turf, and no nutrients on record")
        return
    say(f"NUTRIENTS on {found[0].site} in {day.year}, lb/1000 sq ft")
    _tell_table(found, with_site=False)
    told: set[str] = set()
    for one in found:
        left = [
            f"{line.limit.most.like(line.left)} {line.limit.nutrient} left of {line.limit.most}"
            + (f" ({' and '.join(line.limit.products)} fertilizer)" if line.limit.products else "")
            + f" [{line.limit.source.cited}]"
            for line in one.standings
        ]
        for text in left:
            say(wrapped(text, "    ", f"  {one.zone}: "))
    _tell_later(found)
    rules = [f"{limit.told()} [{limit.source.cited}]" for one in found for limit in one.once]
    rules += [text for one in found for text in one.also]
    law = next((one.law for one in found if one.law), "")
    if not law:
        say("\nno fertilizer law of this state is in the packs")
        return
    say(f"\nthe law on {day} ({law})")
    for rule in rules:
        if rule not in told:
            told.add(rule)
            say(wrapped(rule, "    ", "  - "))


def _tell_year(found: list[ZoneNutrients], year: int) -> None:
    if not found:
        say(f"no nutrients on record in {year}")
        return
    say(f"NUTRIENTS in {year}, lb/1000 sq ft")
    _tell_table(found, with_site=True)
    _tell_later(found)


def _tell_later(found: list[ZoneNutrients]) -> None:
    """Name the records that were sealed before the analysis they are counted by was loaded."""
    later = sorted({serial for one in found for serial in one.later})
    if later:
        was = "was" if len(later) == 1 else "were"
        text = f"{', '.join(later)} {was} sealed before the analysis was loaded: counted by the one in the book now"
        say(wrapped(text, "      ", "  * "))


def _tell_table(found: list[ZoneNutrients], *, with_site: bool) -> None:
    rows = []
    for one in found:
        cells = []
        for sure, most in one.put.values():
            low, high = _pounds(sure), _pounds(most)
            cells.append(high if low in {"", high} else f"{low} to {high}")
        yearly = [
            f"{line.limit.most.like(line.left).partition(' ')[0]} {line.limit.nutrient}" for line in one.standings
        ]
        none = "no limit" if one.law else "no law known"
        unknown = f" (+{one.unknown} of unknown weight)" if one.unknown else ""
        head = [one.site] if with_site else []
        rows.append(
            [
                *head,
                one.zone,
                *cells,
                f"{len(one.serials)}{'*' if one.later else ''}{unknown}",
                *([", ".join(yearly) or none] if with_site else []),
            ]
        )
    head = (["site"] if with_site else []) + ["zone", "N", "P2O5", "K2O", "visits"] + (["left"] if with_site else [])
    first = 2 if with_site else 1
    table(head, rows, right=range(first, first + 3), keep=range(first, first + 3))


def _dose(context: typer.Context, what: str, want: str, area: str | None) -> None:
    from records.domain.numerals import QuantityError
    from records.domain.quantities import parse_area
    from records.errors import InputError
    from records.services.directory import Directory
    from records.services.nutrients import dose
    from records.services.occasions import product_of

    with application(context).book().read() as work:
        product = product_of(Directory(work.catalogue), what)
    try:
        size = None if area is None else parse_area(area)
    except QuantityError as error:
        raise InputError(str(error), "Write it like 4,550 sq ft") from error
    made = dose(product, want, size)
    if state_of(context).json:
        say_json({"schema": 1, **_dose_document(made)})
        return
    doc = _dose_document(made)
    say(f"{made.product.name} ({doc['analysis']}) for {want}")
    pairs([(unit, value) for unit, value in doc["rate"].items()], gap=20)
    if made.area is not None:
        pairs([(f"for {made.area}", ", ".join(f"{value} {unit}" for unit, value in doc["total"].items()))], gap=20)
    pairs([("gives per 1000", ", ".join(f"{value} lb {name}" for name, value in doc["gives"].items()))], gap=20)
    if doc["over_label"]:
        say(wrapped(f"over the label: {doc['over_label']}", "       ", "  note "))


def _dose_document(made: Dose) -> dict[str, Any]:
    from records.domain.strength import rates_of, significant
    from records.rules.allowances import over_label
    from records.units import Kind, factor

    analysis = made.product.analysis
    assert analysis is not None  # noqa: S101 - a dose has one
    kind = made.product.form.kind
    gives = analysis.of_base(made.rate)
    assert gives is not None  # noqa: S101 - its weight is known, or there were no rate
    units = ("fl oz", "gal") if kind is Kind.VOLUME else ("lb", "oz wt")
    total = {} if made.total is None else {unit: significant(made.total / factor(unit)) for unit in units}
    return {
        "product": made.product.id,
        "analysis": analysis.text,
        "nutrient": made.nutrient,
        "rate": {unit: significant(value) for unit, value in rates_of(made.rate, kind)},
        "area": None if made.area is None else str(made.area),
        "total": total,
        "over_label": over_label(made.product, made.rate) or None,
        "gives": {name: _pounds(gives.of(name)) for name in ("N", "P2O5", "K2O")},
    }
