"""A plan as one JSON document, and what several screens tell alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

from records.domain.measuring import exact_words
from records.domain.quantities import format_number
from records.services.planning.words import dose_words, exact_rate, number

if TYPE_CHECKING:
    from records.domain.findings import Finding, Severity
    from records.domain.handling import Worn
    from records.domain.quantities import Quantity
    from records.rules.headroom import Room
    from records.services.planning.model import Charge, Load, Measure, Part, Plan, Recipe, Stop
    from records.services.ports import Json

LABEL_WINS = (
    "The product label is the law and wins over this plan. It is an aid and not legal advice; confirm with the state's "
    "pesticide agency and a licensed professional."
)


def plan_document(plan: Plan) -> Json:
    """Return a plan as plain JSON: amounts as text with their units, exact to nine decimals."""
    return {
        "on": plan.day.isoformat(),
        "by": None if plan.by is None else plan.by.id,
        "temperature": plan.temperature or None,
        "stops": plan.stops,
        "findings": [finding.document() for finding in plan.findings],
        "not_checked": list(plan.not_checked),
        "loads": [_load(load) for load in plan.loads],
        "caution": LABEL_WINS,
    }


def _text(amount: Quantity | None) -> str | None:
    return None if amount is None else f"{format_number(amount.value, 9)} {amount.unit}"


def _load(load: Load) -> Json:
    return {
        "id": load.id,
        "equipment": load.equipment.id,
        "method": load.method,
        "targets": list(load.targets),
        "output": None if load.output is None else {"rate": str(load.output.rate), "from": load.output.words},
        "tank": _text(load.tank),
        "area": _text(load.area),
        "whole": _text(load.whole),
        "loads": load.split.count,
        "full_loads": load.split.full,
        "last_load": _text(load.split.rest),
        "products": [_part(part) for part in load.parts],
        "charges": [_charge(charge, load) for charge in load.charges],
        "stops": [_stop(stop, load) for stop in load.stops],
        "order": None if load.recipe is None else _recipe(load.recipe),
        "jar_tests": [list(pair) for pair in load.jar_tests],
        "lines": [{"name": one.name, "words": one.words, "products": list(one.products)} for one in load.lines],
        "ppe": {
            "mix": _worn(load.ppe_mix),
            "apply": _worn(load.ppe_apply),
            "not_in_the_book": list(load.ppe_unknown),
        },
        "notes": list(load.notes),
        "findings": [finding.document() for finding in load.findings],
    }


def _part(part: Part) -> Json:
    return {
        "product": part.product.id,
        "name": part.product.name,
        "formulation": part.product.formulation or None,
        "rate": str(part.rate),
        "chosen": not part.is_labels,
        "label_prints": part.printed or None,
        "label_lacks": part.lacking or None,
        "per_gallon": None if part.dose is None else exact_rate(part.dose),
        "label_per_gallon": part.own_dose or None,
        "percent_by_volume": None if part.strength is None else format_number(part.strength, 9),
        "lot": part.lot or None,
    }


def _charge(charge: Charge, load: Load) -> Json:
    return {
        "what": charge.words,
        "times": charge.times,
        "size": _text(charge.size),
        "covers": _text(charge.covers),
        "products": [
            None if measure is None else {"product": part.product.id, **_measure(measure)}
            for part, measure in zip(load.parts, charge.measures, strict=True)
        ],
    }


def _measure(measure: Measure) -> Json:
    return {
        "amount": _text(measure.amount),
        "measure": [
            {
                "mark": mark.words,
                "with": mark.vessel.words,
                "error_percent": format_number(mark.error * 100, 4),
            }
            for mark in measure.marks
        ],
    }


def _stop(stop: Stop, load: Load) -> Json:
    return {
        "number": stop.number,
        "site": None if stop.site is None else stop.site.id,
        "zones": [zone.id for zone in stop.zones],
        "left_out": list(stop.left_out),
        "area": _text(stop.area),
        "spray": _text(stop.spray),
        "loads": None if stop.loads is None else list(stop.loads),
        "products": [
            {"product": part.product.id, "amount": _text(amount)}
            for part, amount in zip(load.parts, stop.amounts, strict=True)
        ],
        "still_allowed": [_room(room) for room in stop.rooms],
        "findings": [finding.document() for finding in stop.findings],
    }


def _room(room: Room) -> Json:
    return {
        "zone": room.zone,
        "product": room.product,
        "left": room.left_words or None,
        "applications_left": room.times_left,
        "lawful_from": None if room.lawful_from is None else room.lawful_from.isoformat(),
        "counted": list(room.before),
        "not_counted": room.unknown,
    }


def _recipe(recipe: Recipe) -> Json:
    return {
        "steps": [{"words": step.words, "product": step.product or None} for step in recipe.steps],
        "source": recipe.source,
        "url": None if recipe.order is None else recipe.order.url,
        "no_place": list(recipe.unplaced),
        "warnings": list(recipe.warnings),
    }


def _worn(worn: tuple[Worn, ...]) -> list[Json]:
    return [{"item": one.item, "products": list(one.products)} for one in worn]


def grouped(plan: Plan) -> list[tuple[Severity, str, str, list[str]]]:
    """Return all findings with the places they were met at, the same one once: severity, code, message, places."""
    found: dict[tuple[Severity, str, str], list[str]] = {}

    def add(finding: Finding, place: str) -> None:
        places = found.setdefault((finding.severity, finding.code.value, finding.message), [])
        if place not in places:
            places.append(place)

    several = len(plan.loads) > 1
    for finding in plan.findings:
        add(finding, "people")
    for load in plan.loads:
        for finding in load.findings:
            add(finding, f"mix of {load.id}" if several else "mix")
        for stop in load.stops:
            for finding in stop.findings:
                add(finding, f"{load.id} stop {stop.number}" if several else f"stop {stop.number}")
    order = {"stop": 0, "ask": 1, "note": 2}
    return sorted(((*key, places) for key, places in found.items()), key=lambda one: order[one[0].value])


def loads_words(load: Load) -> str:
    """Return how much is made in how many loads."""
    tank = f"{number(load.tank.value)} {load.tank.unit}" if load.tank is not None else ""
    what = "granules" if load.is_spread else "spray"
    whole = f"{number(load.whole.value)} {load.whole.unit} of {what}"
    vessel = "hopper" if load.is_spread else "tank"
    if load.tank is None:
        return f"{whole} in one load: the size of the {vessel} is not known (--tank)"
    count = load.split.count
    if count == 1:
        return f"{whole}: one {'full load' if load.split.rest is None else 'load'} ({vessel} {tank})"
    if load.split.rest is None:
        return f"{whole}: {count} full loads ({vessel} {tank})"
    rest = f"{number(load.split.rest.value)} {load.split.rest.unit}"
    return f"{whole}: {count} loads, {load.split.full} full and the last one of {rest} ({vessel} {tank})"


def area_words(load: Load) -> str:
    """Return the area of a load with the number of its stops, and how many of them nobody measured; "" without one."""
    if load.area is None:
        return ""
    count = len(load.stops)
    lacking = sum(stop.area is None for stop in load.stops)
    stops = f"{count} stop{'' if count == 1 else 's'}"
    area = f"{number(load.area.base)} sq ft"
    if not lacking:
        return f"{area}, {stops}"
    return f"{area} at {count - lacking} of {stops}; {lacking} {'is' if lacking == 1 else 'are'} not measured"


def jar_words(load: Load) -> str:
    """Return which products of a load were never sealed together in the book; "" where all were."""
    count = len(load.parts)
    if not load.jar_tests:
        return ""
    if count > 2 and len(load.jar_tests) == count * (count - 1) // 2:
        return "jar test first: no two of these were sealed together in this book before"
    pairs = "; ".join(f"{one} with {other}" for one, other in load.jar_tests)
    return f"jar test first, not sealed together in this book before: {pairs}"


def amount_words(measure: Measure | None) -> str:
    """Return an amount as it is measured, or that it does not follow."""
    return "not known" if measure is None else exact_words(measure.amount)


def label_words(part: Part) -> str:
    """Return what a label prints for the use, and what it has no line for."""
    if not part.printed:
        return part.lacking or "no rate for this use"
    return f"{part.printed}; {part.lacking}" if part.lacking else part.printed


def strength_words(part: Part) -> str:
    """Return how strong the spray is: per gallon and per cent by volume."""
    if part.dose is None:
        return ""
    percent = "" if part.strength is None or part.rate.unit == "%" else f", {number(part.strength, 3)} % v/v"
    return f"{dose_words(part.dose)}{percent}"
