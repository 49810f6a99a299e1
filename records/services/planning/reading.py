"""Reads what is asked of a plan: a document, or the words of the command line put into one; all problems at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.formulations import AWAMLES, ORDERS
from records.domain.loaded import NAME, Problem, Table, open_document, shown
from records.domain.numerals import QuantityError
from records.domain.quantities import (
    Form,
    parse_amount,
    parse_area,
    parse_output,
    parse_temperature,
    parse_volume,
)
from records.domain.weather import plausible_temperature

if TYPE_CHECKING:
    from datetime import date

    from records.domain.formulations import Order
    from records.domain.quantities import Quantity, Rate

MOST_LOADS, MOST_STOPS = 20, 200


@dataclass(frozen=True, slots=True)
class AskedProduct:
    """A product at a rate; "" = the only one its label prints."""

    at: str
    product: str
    rate: str
    lot: str


@dataclass(frozen=True, slots=True)
class AskedStop:
    """A site with its zones; none named: those that the labels allow."""

    at: str
    site: str
    zones: tuple[str, ...]
    area: Quantity | None
    spray: Quantity | None


@dataclass(frozen=True, slots=True)
class AskedLoad:
    """One mix in one piece of equipment."""

    at: str
    id: str
    equipment: str
    method: str
    targets: tuple[str, ...]
    tank: Quantity | None
    output: Rate | None
    area: Quantity | None
    spray: Quantity | None
    ground: str
    order: Order
    products: tuple[AskedProduct, ...]
    stops: tuple[AskedStop, ...]


@dataclass(frozen=True, slots=True)
class Asked:
    """A day."""

    day: date | None
    by: str
    supervisor: str
    temperature: str
    loads: tuple[AskedLoad, ...]


def read_asked(doc: object, problems: list[Problem]) -> Asked | None:
    """Read a day that is to be planned.

    Args:
        doc: with `on`, `by`, `temperature` and `loads`.
        problems: every problem found is added here.
    """
    table = open_document(doc, problems, "")
    if table is None:
        return None
    day = table.day("on", required=True)
    temperature = table.amount("temperature", parse_temperature, "84 degF")
    if temperature is not None and (message := plausible_temperature(temperature)):
        table.problem("temperature", message)
    loads = table.tables("loads", least='{equipment = "skid-1", products = [...], stops = ["lark-lane-7"]}')
    if len(loads) > MOST_LOADS:
        table.problem("loads", f"has {len(loads)} entries; {MOST_LOADS} are planned at once")
        loads = loads[:MOST_LOADS]
    asked = Asked(
        day=day,
        by=table.identifier("by", required=False),
        supervisor=table.identifier("supervisor", required=False),
        temperature="" if temperature is None else str(temperature),
        loads=tuple(_load(load, f"loads[{index}]", index) for index, load in enumerate(loads)),
    )
    table.finish()
    return asked


def _load(table: Table, at: str, index: int) -> AskedLoad:
    stops = tuple(_stops(table, at))
    if len(stops) > MOST_STOPS:
        table.problem("stops", f"has {len(stops)} entries; {MOST_STOPS} are planned in one load")
    area, spray = table.amount("area", parse_area, "12,000 sq ft"), table.amount("spray", parse_volume, "2 gal")
    method = " ".join(table.text("method", cap=NAME).lower().split()) or "broadcast"
    if area is not None and stops:
        table.problem("area", "goes with no stops; a stop has an area of its own where not all of it is treated")
    if area is None and spray is None and not stops:
        table.missing("stops", "name the sites; or give an area, or the spray to be made")
    order = table.choice("order", ORDERS)
    if not table.has("equipment"):
        table.missing("equipment", "name what it is put out with, by its id, such as skid-1")
    asked = AskedLoad(
        at=at,
        id=table.identifier("id", required=False) or f"load-{index + 1}",
        equipment=table.identifier("equipment", required=False),
        method=method,
        targets=table.texts("targets", cap=NAME, lower=True),
        tank=table.amount("tank", _tank, "55 gal"),
        output=table.amount("output", parse_output, "1 gal/1000 sq ft or 44 GPA"),
        area=area,
        spray=spray,
        ground=table.text("ground", cap=NAME).lower() or "turf",
        order=ORDERS[order] if order else AWAMLES,
        products=tuple(_products(table, at)),
        stops=stops[:MOST_STOPS],
    )
    for key, value in (("tank", asked.tank), ("output", asked.output), ("area", area), ("spray", spray)):
        if value is not None and value.value == 0:
            table.problem(key, "is zero; leave it out where it is not known")
    table.finish()
    return asked


def _tank(text: str) -> Quantity:
    """Read the size of a tank, a volume, or of a hopper, a weight."""
    try:
        return parse_volume(text)
    except QuantityError:
        try:
            return parse_amount(text, Form.DRY)
        except QuantityError as error:
            message = (
                f"{shown(text)} is no size: write a volume, such as 10 gal, or for a hopper a weight, such as 80 lb"
            )
            raise QuantityError(message) from error


def _products(table: Table, at: str) -> list[AskedProduct]:
    found: list[AskedProduct] = []
    example = '{product = "brindle-4l", rate = "1.1 fl oz/1000 sq ft"}'
    for index, one in enumerate(table.tables("products", least=example)):
        product = AskedProduct(
            f"{at}.products[{index}]",
            one.identifier("product"),
            one.text("rate", cap=NAME),
            one.text("lot", cap=60),
        )
        one.finish()
        if product.product and product.product in {other.product for other in found}:
            one.problem("product", f"{product.product} is named twice in one load; name it once")
        found.append(product)
    return found


def _stops(table: Table, at: str) -> list[AskedStop]:
    found: list[AskedStop] = []
    for index, (place, entry) in enumerate(table.strings_or_tables("stops")):
        where = f"{at}.stops[{index}]"
        if isinstance(entry, Table):
            stop = AskedStop(
                where,
                entry.text("site", required=True, cap=NAME),
                entry.texts("zones", cap=NAME),
                entry.amount("area", parse_area, "300 sq ft"),
                entry.amount("spray", parse_volume, "0.4 gal"),
            )
            for key, value in (("area", stop.area), ("spray", stop.spray)):
                if value is not None and value.value == 0:
                    entry.problem(key, "is zero; leave it out where it is not known")
            entry.finish()
        else:
            site, colon, zones = entry.partition(":")
            names = tuple(dict.fromkeys(zone.strip() for zone in zones.split(",") if zone.strip()))
            stop = AskedStop(where, site.strip(), names, None, None)
            if not stop.site or (colon and not names):
                table.problem(place, f"{shown(entry)} is no stop; write SITE or SITE:zone,zone")
        found.append(stop)
    return found
