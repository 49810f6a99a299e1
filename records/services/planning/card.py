"""The mix card: one page for the person at the tank, every text ready to be drawn."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from records.domain.findings import Severity
from records.domain.report_model import one_line
from records.services.notice_words import EMERGENCY, NPIC, POISON_HELP
from records.services.planning.telling import (
    LABEL_WINS,
    amount_words,
    area_words,
    grouped,
    jar_words,
    loads_words,
    strength_words,
)
from records.services.planning.words import number, rate_words, short

if TYPE_CHECKING:
    from datetime import date

    from records.domain.handling import Worn
    from records.services.planning.model import Load, Plan

whole = partial(one_line, limit=None)  # what is worn, and a label's own words, are never cut here
EMERGENCY_LINE = (
    f"Collapsed, a seizure, or cannot breathe: {EMERGENCY}. Poison Help, day and night: {POISON_HELP}. "
    f"Pesticide information on weekdays, no emergency line: {NPIC}."
)


class CardRow(NamedTuple):
    """One product of one size of load: which load, how much spray and area, the product, its amount and marks."""

    load: str
    size: str
    covers: str
    product: str
    amount: str
    measure: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Card:
    """What one card says."""

    title: str
    day: date
    firm: str
    phone: str
    about: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]  # what stops it, is forbidden, or has to be looked at first
    products: tuple[tuple[str, str], ...]  # name and number; rate and strength
    rows: tuple[CardRow, ...]
    order_source: str
    order: tuple[str, ...]
    binding: tuple[tuple[str, str], ...]
    stops: tuple[tuple[str, str, str, str, str], ...]  # number, where, area, spray, load
    cautions: tuple[str, ...]


def worn_words(worn: tuple[Worn, ...]) -> str:
    """Return protective equipment as one line: an item with its labels, items of the same labels together."""
    groups: list[tuple[tuple[str, ...], list[str]]] = []
    for one in worn:
        if groups and groups[-1][0] == one.products:
            groups[-1][1].append(one.item)
        else:
            groups.append((one.products, [one.item]))
    return "; ".join(f"{', '.join(items)} ({', '.join(products)})" for products, items in groups)


def cards_of(plan: Plan) -> tuple[Card, ...]:
    """Return a card for each load."""
    return tuple(_card(plan, load) for load in plan.loads)


def _card(plan: Plan, load: Load) -> Card:
    who = "" if plan.by is None else plan.by.name
    output = "" if load.output is None else f"{rate_words(load.output.rate)} ({load.output.words})"
    about = (
        ("Day", f"{plan.day:%A} {plan.day}" + (f"; {who}" if who else "")),
        ("Equipment", f"{load.equipment.name}; {load.method}" + (f"; output {output}" if output else "")),
        ("Area", area_words(load)),
        ("Against", ", ".join(load.targets)),
        ("Make", loads_words(load)),
    )
    return Card(
        title=f"Mix card: {load.id}",
        day=plan.day,
        firm=one_line(plan.business.name),
        phone=one_line(plan.business.phone),
        about=tuple((name, whole(text)) for name, text in about if text),
        warnings=tuple(map(whole, _warnings(plan, load))),
        products=tuple(_product(load, index) for index in range(len(load.parts))),
        rows=tuple(_rows(load)),
        order_source="" if load.recipe is None else whole(load.recipe.source),
        order=() if load.recipe is None else tuple(whole(step.words) for step in load.recipe.steps),
        binding=tuple((name, whole(text)) for name, text in _binding(load)),
        stops=tuple(_stops(load)),
        cautions=(EMERGENCY_LINE, LABEL_WINS),
    )


def _product(load: Load, index: int) -> tuple[str, str]:
    part = load.parts[index]
    number_ = f" ({part.product.registration})" if part.product.registration else ""
    lot = f", lot {part.lot}" if part.lot else ""
    strength = strength_words(part)
    printed = f"; the label prints {part.printed}" if part.printed else ""
    printed += f"; {'' if part.product.label is None else 'its label has '}{part.lacking}" if part.lacking else ""
    rate = rate_words(part.rate)
    strength = strength.removeprefix(rate).removeprefix(", ")  # a rate per gallon is told once
    told = rate + (f" = {strength} of spray" if strength else "") + printed
    return one_line(f"{part.product.name}{number_}{lot}"), whole(told)


def _warnings(plan: Plan, load: Load) -> list[str]:
    """Return what has to be known before mixing: what stops, asks or is noted of the mix, jar tests, gaps of the order.

    What is only noted of a stop is for who plans, not for who mixes.
    """
    several = len(plan.loads) > 1
    told = []
    for severity, _, message, places in grouped(plan):
        mine = [
            place.removeprefix(f"{load.id} ").removesuffix(f" of {load.id}") if several else place
            for place in places
            if not several or place == "people" or load.id in place.split()
        ]
        if severity.value != "note" and mine:
            mark = "STOP" if severity.value == "stop" else "Ask first"
            numbers = [place.removeprefix("stop ") for place in mine if place.startswith("stop ")]
            others = [place for place in mine if not place.startswith("stop ")]
            where = ", ".join([*others, *([f"stop {', '.join(numbers)}"] if numbers else [])])
            told.append(f"{mark} ({where}): {message}")
    told += [f"Note: {one.message}" for one in load.findings if one.severity is Severity.NOTE]
    told += [f"J{jar_words(load)[1:]}"] if load.jar_tests else []
    if load.recipe is not None:
        told += [*load.recipe.warnings, *(f"Place in the order: {text}" for text in load.recipe.unplaced)]
    return [*told, *load.notes]


def _rows(load: Load) -> list[CardRow]:
    rows = []
    for charge in load.charges:
        times = f"{charge.times} x {charge.words}" if charge.times > 1 else charge.words
        covers = "" if charge.covers is None else f"{number(charge.covers.base, 0)} sq ft"
        for index, (part, measure) in enumerate(zip(load.parts, charge.measures, strict=True)):
            first = (times, short(charge.size), covers) if not index else ("", "", "")
            marks = () if measure is None else tuple(str(mark) for mark in measure.marks)
            rows.append(CardRow(*first, one_line(part.product.name), amount_words(measure), marks))
    return rows


def _binding(load: Load) -> list[tuple[str, str]]:
    rows = [(line.name, f"{line.words} ({', '.join(line.products)})") for line in load.lines]
    rows += [("wear, mixing", worn_words(load.ppe_mix)), ("wear, applying", worn_words(load.ppe_apply))]
    if load.ppe_unknown:
        rows.append(("wear", f"as the label says; not in the book for {', '.join(load.ppe_unknown)}"))
    return [(name, text) for name, text in rows if text]


def _stops(load: Load) -> list[tuple[str, str, str, str, str]]:
    rows = []
    for stop in load.stops:
        zones = f": {', '.join(zone.id for zone in stop.zones)}" if stop.zones else ""
        where = f"{stop.place}{zones}" if stop.place else f"an area of {load.method} work"
        first, last = stop.loads or (0, 0)
        rows.append(
            (
                str(stop.number),
                one_line(where),
                "not measured" if stop.area is None else f"{number(stop.area.base)} sq ft",
                "" if stop.spray is None else short(stop.spray),
                "" if not first else str(first) if first == last else f"{first}-{last}",
            )
        )
    return rows
