"""Customers, sites with their zones, equipment and loads, read from a loaded document."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.area import HOW, Measured
from records.domain.figures import EXAMPLE as EXAMPLE_FIGURE
from records.domain.figures import parse_figure, sum_of
from records.domain.loaded import LINE, NAME, PROSE, open_document, shown
from records.domain.mixing import Carried, Mix, MixLine
from records.domain.numerals import QuantityError
from records.domain.place import Customer, Equipment, Site, ToNotify, Zone
from records.domain.quantities import Form, parse_amount, parse_area, parse_output, parse_volume
from records.domain.spans import EXAMPLE, read_span
from records.services.reading.people import email, time_zone

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.loaded import Problem, Table
    from records.domain.quantities import Quantity

LANGUAGES = ("en", "es")  # the languages that notices are printed in
WHY = ("registry", "asked", "abutting")  # why someone has to be told before
_ZIP = re.compile(r"(\d{5})(?:-?(\d{4}))?", re.ASCII)


def read_customer(doc: object, problems: list[Problem], where: str = "") -> Customer | None:
    """Read who pays.

    Args:
        doc: the table as loaded.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.

    Returns:
        The customer, or None when there was any problem.
    """
    before = len(problems)
    table = open_document(doc, problems, where)
    if table is None:
        return None
    customer = Customer(
        id=table.identifier(),
        name=table.text("name", required=True, cap=NAME),
        address=table.text("address"),
        phone=table.text("phone", cap=40),
        email=email(table),
        language=table.choice("language", LANGUAGES) or "en",
        email_consent=table.day("email_consent"),
    )
    table.finish()
    return customer if len(problems) == before else None


def _zip(table: Table) -> str:
    text = table.text("zip", required=True, cap=NAME, hint="five digits in quotes")
    if not text:
        return ""
    found = _ZIP.fullmatch(text)
    if found is None:
        table.problem("zip", f"{shown(text)} is no ZIP code; write five or nine digits, such as 55290 or 55290-0012")
        return ""
    return f"{found[1]}-{found[2]}" if found[2] else found[1]


def _measured(table: Table) -> Measured | None:
    """Return how the area of a zone is known; None where nothing is said of it."""
    one = table.table("measured")
    if one is None:
        return None
    how, on = one.choice("how", HOW, required=True), one.day("on")
    by = one.text("by", cap=NAME)
    figures = one.amounts("figures", parse_figure, EXAMPLE_FIGURE)
    one.finish()
    area = None
    if figures:
        try:
            area = sum_of(figures)
        except QuantityError as error:
            one.problem("figures", str(error))
    return Measured(how, on, by, tuple(str(figure) for figure in figures), area)


def _zone(table: Table) -> Zone:
    area, measured = table.amount("area", parse_area, "4,200 sq ft or 0.25 acre"), _measured(table)
    worked_out = None if measured is None else measured.area
    if area is not None and worked_out is not None and not _is_same(area, worked_out):
        what = f"is {area}, but the figures under measured make {worked_out}; correct one, or leave it out"
        table.problem("area", what)
    if area is None and worked_out is not None:
        # What is worked out has the exactness of the text that it is rounded to, as an area that was typed has.
        area = parse_area(str(worked_out))
    zone = Zone(
        id=table.identifier(),
        kind=table.text("kind", required=True, cap=NAME, hint="such as turf, ornamental bed or hardscape").lower(),
        area=area,
        turf=table.texts("turf", cap=NAME, lower=True),
        name=table.text("name", cap=NAME),
        measured=measured,
    )
    table.finish()
    if zone.area is not None and zone.area.value == 0:
        table.problem("area", "is zero; leave the key out until the zone is measured")
    return zone


def _is_same(area: Quantity, worked_out: Quantity) -> bool:
    """Tell whether an area as typed is what the figures make, within the readings of both."""
    return abs(area.base - worked_out.base) <= area.base_half + worked_out.base_half


def _zones(table: Table) -> tuple[Zone, ...]:
    """Return the zones of a site; every id may be given once."""
    found: list[Zone] = []
    seen: set[str] = set()
    for one in table.tables("zones", least='{id = "front", kind = "turf", area = "4200 sq ft"}'):
        zone = _zone(one)
        if zone.id and zone.id in seen:
            one.problem("id", f"{zone.id!r} is given twice; every zone of a site has its own id")
        seen.add(zone.id)
        found.append(zone)
    return tuple(found)


def _to_notify(table: Table) -> tuple[ToNotify, ...]:
    """Return who has to be told before the site is treated; every id may be given once."""
    found: dict[str, ToNotify] = {}
    for one in table.tables("notify"):
        lead = one.text("lead", cap=NAME)
        span = read_span(lead) if lead else None
        if lead and span is None:
            one.problem("lead", f"{shown(lead)} is no stretch of time; write {EXAMPLE}")
        entry = ToNotify(
            id=one.identifier(),
            name=one.text("name", required=True, cap=NAME),
            why=one.choice("why", WHY, required=True),
            lead=span,
            address=one.text("address"),
            phone=one.text("phone", cap=40),
            email=email(one),
            first_day=one.day("from"),
            last_day=one.day("to"),
        )
        one.finish()
        if entry.id and entry.id in found:
            one.problem("id", f"{entry.id!r} is given twice; everyone who is told has an id of their own")
        if entry.first_day is not None and entry.last_day is not None and entry.first_day > entry.last_day:
            one.problem("to", f"{entry.last_day} is before the first day, {entry.first_day}; swap or correct them")
        found[entry.id] = entry
    return tuple(found.values())


def read_site(doc: object, problems: list[Problem], where: str = "") -> Site | None:
    """Read a treated address with its measured parts.

    Args:
        doc: the table as loaded.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.

    Returns:
        The site, or None when there was any problem.
    """
    before = len(problems)
    table = open_document(doc, problems, where)
    if table is None:
        return None
    site = Site(
        id=table.identifier(),
        customer=table.identifier("customer"),
        address=table.text("address", required=True),
        city=table.text("city", required=True, cap=NAME),
        county=table.text("county", cap=NAME),
        state=table.state(),
        zip=_zip(table),
        timezone=time_zone(table, required=False),
        zones=_zones(table),
        notes=table.text("notes", cap=PROSE),
        notify=_to_notify(table),
        landmark=table.text("landmark", cap=LINE),
        meter=table.text("meter", cap=40),
    )
    table.finish()
    return site if len(problems) == before else None


def read_equipment(doc: object, problems: list[Problem], where: str = "") -> Equipment | None:
    """Read what is sprayed or spread with.

    Args:
        doc: the table as loaded.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.

    Returns:
        The equipment, or None when there was any problem.
    """
    before = len(problems)
    table = open_document(doc, problems, where)
    if table is None:
        return None
    key, name, kind = table.identifier(), table.text("name", required=True, cap=NAME), table.text("kind", cap=NAME)
    output = table.amount("output", parse_output, "1 gal/1000 sq ft or 44 GPA")
    if output is not None and output.value == 0:
        table.problem("output", "is zero; leave the key out until it is calibrated")
    calibrated = table.day("calibrated_on")
    tank = table.amount("tank", _tank, "100 gal, or 50 lb for a hopper")
    if tank is not None and tank.value == 0:
        table.problem("tank", "is zero; leave the key out where it is not known")
    nozzle = table.text("nozzle", cap=NAME)
    table.finish()
    if len(problems) != before:
        return None
    return Equipment(key, name, kind.lower(), output, calibrated.isoformat() if calibrated else "", tank, nozzle)


def _tank(text: str) -> Quantity:
    """Return what a tank or a hopper holds.

    Raises:
        QuantityError: neither a volume nor a weight.
    """
    try:
        return parse_volume(text)
    except QuantityError:
        return parse_amount(text, Form.DRY)


def _mix_line(table: Table) -> MixLine:
    amount = table.amount("amount", lambda text: parse_amount(text, Form.UNKNOWN), "62 fl oz or 2.5 g", required=True)
    if amount is not None and amount.value == 0:
        table.problem("amount", "is zero; leave the product out")
    line = MixLine(
        product=table.identifier("product"),
        amount=table.text("amount", cap=NAME) if amount else "",
        lot=table.text("lot", cap=60),
    )
    table.finish()
    return line


def _carried(table: Table, own: str) -> Iterator[Carried]:
    """Yield the leftovers of earlier loads; each may be named once."""
    seen: set[str] = set()
    for one in table.tables("carried"):
        mix = one.identifier("mix")
        spray = one.amount("spray", parse_volume, "6 gal", required=True)
        one.finish()
        if mix and mix == own:
            one.problem("mix", "is the load itself; name the earlier one that the leftover came from")
        elif mix and mix in seen:
            one.problem("mix", f"{mix!r} is given twice; add the two leftovers up")
        seen.add(mix)
        if spray is not None and spray.value == 0:
            one.problem("spray", "is zero; leave the leftover out")
        elif spray is not None:
            yield Carried(mix, spray)


def read_mix(doc: object, problems: list[Problem], where: str = "") -> Mix | None:
    """Read a load made up once; `water` is the finished spray it makes, leftovers of earlier loads included.

    Args:
        doc: the table as loaded.
        problems: every problem found is added here.
        where: path of the table in its file, for messages.

    Returns:
        The load, or None when there was any problem.
    """
    before = len(problems)
    table = open_document(doc, problems, where)
    if table is None:
        return None
    key, made_at = table.identifier(), table.moment("made_at")
    equipment = table.identifier("equipment", required=False)
    water = table.amount("water", parse_volume, "100 gal", required=True)
    if water is not None and water.value == 0:
        table.problem("water", "is zero; write the finished spray made, such as 100 gal")
    example = '{product = "brindle-4l", amount = "62 fl oz"}'
    carried = tuple(_carried(table, key))
    products = tuple(_mix_line(line) for line in table.tables("products", least="" if carried else example))
    table.finish()
    if water is not None and sum((one.spray.base - one.spray.base_half for one in carried), Fraction(0)) > water.base:
        table.problem("carried", f"is more than the {water} of finished spray that the load makes with it")
    if len(problems) != before or water is None:
        return None
    return Mix(key, made_at, water, products, equipment, carried)
