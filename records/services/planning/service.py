"""Plans a day: reads what is asked, settles names and rates, works the loads out, looks at every stop."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.findings import Code, Finding, Severity
from records.domain.loaded import Problem
from records.domain.loads import area_of, in_load, loads_of, split, spray_for
from records.domain.measuring import marks
from records.domain.quantities import Form, Per, Quantity
from records.domain.visit import Line as VisitLine
from records.errors import InputError, UsageError
from records.rules.partner_checks import partner_findings
from records.services.closing.amounts import convenient
from records.services.closing.past import memory_of
from records.services.loading import load as load_documents
from records.services.occasions import firm_of
from records.services.planning.looking import Bounds, look
from records.services.planning.model import Charge, Load, Measure, Plan, Planned, Stop
from records.services.planning.parts import Place, settle_load
from records.services.planning.reading import read_asked
from records.services.planning.recipe import (
    MANY_PARTNERS,
    MANY_WORDS,
    jar_tests,
    lines_of,
    mixed_before,
    protection,
    recipe_of,
)
from records.services.planning.words import number, rate_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.clock import Clock
    from records.domain.loads import Split
    from records.services.planning.looking import Looked
    from records.services.planning.parts import Settled
    from records.services.planning.reading import Asked
    from records.services.planning.recipe import Pair
    from records.services.ports import Json, OpenBook

SMALL = Fraction(1280)  # fl oz; a tank up to 10 gal is dosed by the gallon
_HANDS = ("hand", "can", "backpack", "knapsack")


def plan(book: OpenBook, document: object, vessels: Iterable[str] = ()) -> Planned:
    """Plan a day; nothing is written to the book.

    Args:
        book: with the catalogue and the sealed past.
        document: `on`, `by`, `temperature` and `loads`.
        vessels: to measure with; none: any.
    """
    problems: list[Problem] = []
    asked = read_asked(document, problems)
    if asked is None or asked.day is None:
        return _failed(problems)
    with book.read() as work:
        memory = memory_of(work)
        business, _ = firm_of(memory.directory)
        by = None
        if asked.by and (by := memory.directory.person(asked.by)) is None:
            ids = ", ".join(memory.directory.ids("person")[:8])
            problems.append(Problem("by", f"{asked.by!r} is no person of the book; known: {ids}"))
        settled = [settle_load(memory.directory, one, asked.day, asked.by, problems) for one in asked.loads]
        good = [one for one in settled if one is not None]
        stops = [_stops(one, problems) for one in good]
        if problems:
            return _failed(problems)
        looked = look(work, memory, business, asked.day, asked, good, stops)
        known = mixed_before(work, [[part.product for part in one.parts] for one in good if not one.is_spread])
        loads = tuple(
            _load(known, n, one, mine, looked, frozenset(vessels))
            for n, (one, mine) in enumerate(zip(good, stops, strict=True))
        )
    people = None if by is None else by[0]
    made = Plan(
        asked.day, business, people, asked.temperature, loads, tuple(looked.people), tuple(_not_checked(asked, good))
    )
    return Planned(made)


def _failed(problems: list[Problem]) -> Planned:
    told = [f"{problem.where}: {problem.what}" if problem.where else problem.what for problem in problems]
    return Planned(None, tuple(dict.fromkeys(told)))


def _not_checked(asked: Asked, loads: list[Settled]) -> Iterable[str]:
    """Yield what was not looked at, as it was not said."""
    if not asked.by:
        yield "licences: say who works (--by)"
    if any(not load.asked.targets for load in loads):
        yield "weeds: say what is treated (--target)"
    if not asked.temperature:
        yield "heat: give the forecast (--temperature), and measure at the site"


def _stops(load: Settled, problems: list[Problem]) -> list[tuple[Place, Quantity | None, Quantity | None]]:
    """Return the stops of a load with their areas and spray; problems where the load cannot be worked out."""
    asked, output = load.asked, load.output
    places = load.places or (Place(None, (), (), asked.area, asked.spray if asked.area is None else None),)
    found = []
    for place in places:
        area = place.area
        if area is None and not load.is_spot:
            known = [zone.area.base for zone in place.zones if zone.area is not None]
            area = Quantity(sum(known, Fraction(0)), "sq ft") if known else None
        spray = place.spray
        if spray is None and area is not None and output is not None and not load.is_spread:
            spray = spray_for(area, output.rate)
        found.append((place, area, spray))
    _check_whole(load, found, problems)
    return found


def _check_whole(
    load: Settled, stops: list[tuple[Place, Quantity | None, Quantity | None]], problems: list[Problem]
) -> None:
    """Say why the whole of a load does not follow."""
    asked = load.asked
    has_area = any(area is not None for _, area, _ in stops)
    tank = load.tank
    if load.is_spread:
        if not has_area:
            problems.append(Problem(asked.at, "granules go by area: name measured zones, or give an area"))
        if tank is not None and tank.kind is not Form.GRANULE.kind:
            problems.append(
                Problem(f"{asked.at}.tank", f"{tank} is no weight, and granules go into a hopper by weight")
            )
        return
    if tank is not None and tank.kind is not Form.LIQUID.kind:
        problems.append(Problem(f"{asked.at}.tank", f"{tank} is no volume, and spray goes into a tank by volume"))
    per_area = [part for part in load.parts if part.rate.per is Per.AREA]
    if load.output is None and (per_area or not _has_spray(load, stops)):
        why = f"the rate of {per_area[0].product.name} is per area" if per_area else "how much spray is not said"
        problems.append(
            Problem(
                f"{asked.at}.equipment",
                f"{load.equipment.id} has no output, and {why}; calibrate it, or give --output '1 gal/1000 sq ft'",
            )
        )
    elif not has_area and not _has_spray(load, stops) and tank is None:
        problems.append(Problem(asked.at, "neither area nor spray nor tank is known; give --area, --spray or --tank"))


def _has_spray(load: Settled, stops: list[tuple[Place, Quantity | None, Quantity | None]]) -> bool:
    return load.asked.spray is not None or any(spray is not None for _, _, spray in stops) or load.tank is not None


def _whole(
    load: Settled, stops: list[tuple[Place, Quantity | None, Quantity | None]]
) -> tuple[Quantity, tuple[str, ...]]:
    """Return how much spray (or granules) is made, and what is worth saying about it."""
    area = sum((one.base for _, one, _ in stops if one is not None), Fraction(0))
    if load.is_spread:
        rate = load.parts[0].rate
        return Quantity(rate.amount(Quantity(area, "sq ft")).value, rate.unit), ()
    needed = Quantity(sum((one.to("gal") for _, _, one in stops if one is not None), Fraction(0)), "gal")
    if load.asked.spray is not None:
        made = Quantity(load.asked.spray.to("gal"), "gal")
        if needed.value > made.value:
            return made, (f"{number(needed.value)} gal are needed for these stops, {number(made.value)} gal are made",)
        return made, ()
    if needed.value:
        lacking = [place for place, _, spray in stops if spray is None]
        count = f"{len(lacking)} stop has" if len(lacking) == 1 else f"{len(lacking)} stops have"
        more = (f"{count} neither area nor spray: what is made is for the others",) if lacking else ()
        return needed, more
    assert load.tank is not None  # noqa: S101 - looked at before
    return Quantity(load.tank.to("gal"), "gal"), ("the spots are not measured: one full tank is planned",)


def _load(
    known: set[Pair],
    index: int,
    load: Settled,
    stops: list[tuple[Place, Quantity | None, Quantity | None]],
    looked: Looked,
    vessels: frozenset[str],
) -> Load:
    whole, notes = _whole(load, stops)
    notes = (*notes, *_of_output(load))
    parts, products = load.parts, [part.product for part in load.parts]
    divided = split(whole, load.tank)
    area = sum((one.base for _, one, _ in stops if one is not None), Fraction(0))
    charges = tuple(_charges(load, divided, looked, index, vessels))
    recipe = None if load.is_spread else recipe_of(products, load.asked.order, charges[0].size)
    targets = load.asked.targets
    told = [
        VisitLine(
            f"{load.asked.at}.products[{n}]", part.product, part.rate, None, is_amount_typed=False, targets=targets
        )
        for n, part in enumerate(parts)
    ]
    findings = () if load.is_spread else tuple(partner_findings(told))
    worn_mix, worn_apply, unknown = protection(products)
    if len([product for product in products if product.is_pesticide]) > MANY_PARTNERS:
        notes = (*notes, MANY_WORDS)
    return Load(
        id=load.asked.id,
        equipment=load.equipment,
        method=load.asked.method,
        targets=load.asked.targets,
        output=load.output,
        tank=load.tank,
        parts=parts,
        area=Quantity(area, "sq ft") if area else None,
        whole=whole,
        split=divided,
        charges=charges,
        stops=tuple(_made_stops(load, index, stops, divided, looked)),
        recipe=recipe,
        jar_tests=() if load.is_spread else jar_tests(products, known),
        lines=lines_of(looked.bound.get(index, []), products),
        ppe_mix=worn_mix,
        ppe_apply=worn_apply,
        ppe_unknown=unknown,
        notes=notes,
        findings=findings,
    )


def _of_output(load: Settled) -> Iterable[str]:
    """Yield what is worth saying about the calibration that a load is planned with."""
    output = load.output
    if output is None:
        if load.is_spread:
            yield f"{load.equipment.id} is not calibrated: nothing says what its setting puts out"
        return
    if output.is_stale:
        yield f"the output is stale ({output.words}): calibrate {load.equipment.id} before mixing"
    if load.is_spread and output.rate.base != load.parts[0].rate.base:
        rate = load.parts[0].rate
        yield f"{load.equipment.id} puts out {rate_words(output.rate)}, the plan asks {rate}: set it anew"


def _charges(load: Settled, divided: Split, looked: Looked, index: int, vessels: frozenset[str]) -> Iterable[Charge]:
    """Yield the sizes that are mixed, and for what is carried by hand a gallon."""
    if divided.full:
        yield _charge("full load", divided.full, divided.size, load, looked, index, vessels)
    if divided.rest is not None:
        words = "last load" if divided.full else "the load"
        yield _charge(words, 1, divided.rest, load, looked, index, vessels)
    if load.is_spread:
        return
    is_by_hand = any(word in load.equipment.kind for word in _HANDS)
    if is_by_hand or (load.tank is not None and load.tank.base <= SMALL):
        if load.tank is not None and not divided.full:
            yield _charge("a full one", 0, Quantity(load.tank.to("gal"), "gal"), load, looked, index, vessels)
        yield _charge("each gallon", 0, Quantity(Fraction(1), "gal"), load, looked, index, vessels)


def _charge(
    words: str, times: int, size: Quantity, load: Settled, looked: Looked, index: int, vessels: frozenset[str]
) -> Charge:
    output = None if load.output is None else load.output.rate
    if load.is_spread:
        covers: Quantity | None = Quantity(size.base / load.parts[0].rate.base, "sq ft")
    else:
        covers = None if output is None else area_of(size, output)
    measures = []
    for part in load.parts:
        amount = size if load.is_spread else in_load(part.rate, size, output)
        bounds = looked.bounds.get((index, part.product.id), Bounds())
        measures.append(None if amount is None else _measure(convenient(amount), size, covers, bounds, vessels))
    return Charge(words, times, size, covers, tuple(measures))


def _measure(
    amount: Quantity, size: Quantity, covers: Quantity | None, bounds: Bounds, vessels: frozenset[str]
) -> Measure:
    """Return an amount with the marks it is measured by; no mark is above what the labels allow."""
    plain = Quantity(amount.value, amount.unit)
    most = [] if bounds.area is None or covers is None else [bounds.area * covers.base]
    most += [] if bounds.spray is None else [bounds.spray * size.base]
    limit = min(most, default=None)
    # What is over already is told as a finding; no mark makes it more.
    top = None if limit is None else max(limit, plain.base)
    return Measure(plain, marks(plain, top, vessels), limit)


def _made_stops(
    load: Settled,
    index: int,
    stops: list[tuple[Place, Quantity | None, Quantity | None]],
    divided: Split,
    looked: Looked,
) -> Iterable[Stop]:
    output = None if load.output is None else load.output.rate
    used, starts, ends = Fraction(0), [], []
    for _, area, spray in stops:
        starts.append(used)
        used += _taken(load, area, spray)
        ends.append(used)
    drawn = loads_of(starts, ends, divided.size.base) if divided.size.base else []
    for n, (place, area, spray) in enumerate(stops):
        seen = looked.seen[index, n]
        unmeasured = [_unmeasured(place, zone) for zone in place.unmeasured] if not load.is_spot else []
        amounts = []
        for part in load.parts:
            if part.rate.per is Per.AREA:
                amount = None if area is None else part.rate.amount(area)
            else:
                amount = None if spray is None else in_load(part.rate, spray, output)
            amounts.append(None if amount is None else Quantity(convenient(amount).value, convenient(amount).unit))
        yield Stop(
            number=n + 1,
            site=place.site,
            zones=place.zones,
            left_out=place.left_out,
            area=area,
            spray=spray,
            loads=drawn[n] if drawn and ends[n] > starts[n] else None,
            amounts=tuple(amounts),
            findings=(*unmeasured, *seen.findings),
            rooms=tuple(seen.rooms),
        )


def _taken(load: Settled, area: Quantity | None, spray: Quantity | None) -> Fraction:
    """Return what a stop takes out of the tank or the hopper, in base units."""
    if load.is_spread:
        return Fraction(0) if area is None else load.parts[0].rate.amount(area).base
    return Fraction(0) if spray is None else spray.base


def _unmeasured(place: Place, zone: str) -> Finding:
    site = "" if place.site is None else place.site.id
    message = f"zone {zone} of {site} is not measured; measure it, or give the stop an area"
    return Finding(Code.MISSING, Severity.STOP, "zones", message, source="zone measurements")


def save(book: OpenBook, made: Plan, key: str, clock: Clock) -> Json:
    """Store the first load of a plan as a mix, made now, so that visits can name it; return its document.

    Args:
        book: to store it in.
        made: the plan.
        key: id of the mix.
        clock: says when it is made.

    Raises:
        UsageError: the id is taken, the load is spread dry, or something found stops it.
        InputError: the document is not taken.
    """
    first = made.loads[0]
    if first.recipe is None:
        raise UsageError("granules are not mixed, so there is no mix to save", "Leave --save out")
    if made.stops:
        raise UsageError("the plan meets something that stops it, so no mix was saved", "Correct the plan first")
    if any(measure is None for measure in first.charges[0].measures):
        raise UsageError("not every amount of the load is known", "Give an output or a rate per gallon")
    with book.read() as work:
        if work.catalogue.latest("mix", key) is not None:
            raise UsageError(f"the book has a mix {key[:40]!r} already", "Choose another id")
        zone = firm_of(memory_of(work).directory)[0].timezone
    document = mix_document(first, key, clock, zone)
    report = load_documents(book, [("the plan", json.dumps({"mixes": [document]}).encode())], clock)
    if not report.ok:
        raise InputError(f"the mix was not saved: {report.problems[0]}", "Correct it, and plan again")
    return document


def mix_document(load: Load, key: str, clock: Clock, timezone: str) -> Json:
    """Return the first size of a load as a document to load, made now."""
    from zoneinfo import ZoneInfo  # noqa: PLC0415 - the one use

    charge = load.charges[0]
    lines = []
    for part, measure in zip(load.parts, charge.measures, strict=True):
        if measure is not None:
            line = {"product": part.product.id, "amount": str(measure.amount)}
            lines.append(line | ({"lot": part.lot} if part.lot else {}))
    return {
        "id": key,
        "made_at": clock.now().astimezone(ZoneInfo(timezone)).strftime("%Y-%m-%dT%H:%M"),
        "equipment": load.equipment.id,
        "water": f"{charge.size}",
        "products": lines,
    }
