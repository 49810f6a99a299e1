"""May this product go on this lawn today: grass, ground, method, interval, ceilings, wind and heat, in one look.

It answers before anything is mixed; the visit itself is judged again, with its rate and area, when it is closed.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from records.domain.findings import Code, Severity
from records.domain.product import Force
from records.errors import NotFoundError, UsageError
from records.rules.engine import evaluate
from records.rules.label_match import Match, fold, limits_of, match_ground, source_of
from records.rules.weather_checks import is_over
from records.services.actives import history_of
from records.services.closing.past import context_of, memory_of
from records.services.closing.reading import METHODS, read_visit
from records.services.follow_up.repeating import next_on
from records.services.nutrients import law_of
from records.services.occasions import firm_of, product_of, site_of, zone_at
from records.services.planning.words import printed_uses

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.clock import Clock
    from records.domain.place import Site, Zone
    from records.domain.product import LimitLine, Limits, Product
    from records.domain.quantities import Quantity
    from records.rules.allowances import Allowance
    from records.rules.label_match import Matched
    from records.services.closing.past import Memory
    from records.services.directory import Directory
    from records.services.follow_up.repeating import Next
    from records.services.ports import Json, OpenBook, UnitOfWork

# What stands against a product on a ground whatever its rate: the past, the label's ceilings, a state's law.
OF_GROUND = frozenset(
    {
        Code.TOO_SOON,
        Code.OVER_COUNT,
        Code.OVER_YEAR,
        Code.OVER_ACTIVE,
        Code.OVER_NUTRIENT,
        Code.BLACKOUT,
        Code.METHOD_NOT_ALLOWED,
    }
)


ONLY_STACKED = "only if the treatments hit the same ground, so closing asks"


@dataclass(frozen=True, slots=True)
class Asked:
    """What is known of the work that is thought of; None where it is not."""

    day: date | None = None
    zone: str | None = None
    method: str = ""
    target: str = ""
    wind: Quantity | None = None
    temperature: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a label says of one product on one zone."""

    product: str  # id
    name: str
    zone: str
    stops: tuple[str, ...]  # why not; empty: it may
    notes: tuple[str, ...]
    first_day: date | None  # on which it may; None: none is found
    left: str  # what the tightest ceiling leaves; "" where there is none
    rates: str  # as printed
    source: str
    asks: tuple[str, ...] = ()  # what only holds if treatments hit the same ground: closing asks

    @property
    def is_allowed(self) -> bool:
        """Tell whether nothing stands against it."""
        return not self.stops and not self.asks


@dataclass(frozen=True, slots=True)
class Allowed:
    """The answer for one site."""

    site: str
    address: str
    day: date
    verdicts: tuple[Verdict, ...]


def allowed(book: OpenBook, clock: Clock, site: str, product: str | None, asked: Asked) -> Allowed:
    """Return what labels say of the products of the book on the zones of a site.

    Args:
        book: to look in.
        clock: for today.
        site: id, or a part of the address that fits one site.
        product: id, or a part of the name that fits one product; None: every product against weeds.
        asked: what is known of the work.

    Raises:
        UsageError: a method that neither the trade nor a label of the book knows.
        NotFoundError: no such site, zone or product, or a site without a zone.
        InputError: the book has no firm yet.
    """
    with book.read() as work:
        memory = memory_of(work)
        directory = memory.directory
        place, _ = site_of(directory, site)
        business, _ = firm_of(directory)
        _known_method(directory, asked.method)
        day = asked.day or clock.now().astimezone(zone_at(place, business)).date()
        zones = _zones(place, asked.zone, is_turf_only=product is None)
        history, law = history_of(work, place, day), law_of(work, place.state, day)
        found = []
        for one in _products(directory, product):
            for zone in zones:
                following = next_on(work, directory, (place, zone), one, day, asked.method, history, law)
                is_sure = following.day == day or _stops(work, memory, place, zone, one, following, day, asked.method)
                found.append(_verdict(one, zone, following, day, asked, is_sure=is_sure))
    found.sort(key=lambda each: (bool(each.stops), bool(each.asks), each.first_day is None, each.name, each.zone))
    return Allowed(place.id, place.address, day, tuple(found))


def _zones(place: Site, key: str | None, *, is_turf_only: bool) -> Sequence[Zone]:
    if not place.zones:
        raise NotFoundError(f"{place.id} has no zone in the book", "Load the site with its zones: swathbook load FILE")
    if key is None:
        turf = [zone for zone in place.zones if fold(zone.kind) == "turf"] if is_turf_only else []
        return turf or place.zones
    found = place.zone(key)
    if found is None:
        raise NotFoundError(
            f"{place.id} has no zone {key[:40]!r}", f"Its zones: {', '.join(z.id for z in place.zones)}"
        )
    return [found]


def _known_method(directory: Directory, method: str) -> None:
    """Refuse a method that is a slip: no label would list it, and every product would seem forbidden."""
    wanted = fold(method)
    labels = [one.label for one in directory.products() if one.label is not None]
    known = dict.fromkeys([*METHODS, *(fold(way) for label in labels for use in label.uses for way in use.method)])
    if wanted and wanted not in known and not wanted.startswith("spot"):
        near = difflib.get_close_matches(wanted, known, 1, 0.6)
        hint = f"Did you mean {near[0]}?" if near else f"Such as: {', '.join(known)}"
        raise UsageError(f"--method {method[:30]!r} is no method", hint)


def _products(directory: Directory, text: str | None) -> list[Product]:
    if text is None:
        return [one for one in directory.products() if one.is_pesticide]
    return [product_of(directory, text)]


def _stops(
    work: UnitOfWork, memory: Memory, place: Site, zone: Zone, product: Product, following: Next, day: date, method: str
) -> bool:
    """Tell whether closing would stop the label's lowest rate on the whole zone, or only ask about the ground.

    Where that cannot be put together (no rate by area, no measured zone), it is taken to stop.
    """
    least = following.allowance.least
    if least is None or zone.area is None or product.label is None:
        return True
    matched = match_ground(product.label, zone.kind, zone.turf, method)
    way = method or next((each for use in matched.uses for each in use.method), "broadcast")
    line = {"product": product.id, "rate": str(least)}
    treatment = {"zones": [zone.id], "method": way, "area": str(zone.area), "products": [line]}
    document = {"site": place.id, "started": f"{day}T12:00", "finished": f"{day}T12:10", "treatments": [treatment]}
    visit, reader = read_visit(document, memory.directory)
    now = datetime.combine(day, time(23), ZoneInfo(visit.timezone)).astimezone(UTC)
    findings = [*reader.findings, *evaluate(visit, context_of(work, memory, visit, now))]
    return any(one.code in OF_GROUND and one.severity is Severity.STOP for one in findings)


def _verdict(
    product: Product, zone: Zone, following: Next, day: date, asked: Asked, *, is_sure: bool = True
) -> Verdict:
    label, allowance = product.label, following.allowance
    if label is None:
        return Verdict(
            product.id, product.name, zone.id, ("no label is in the book",), (), None, "", "", source_of(product)
        )
    matched = match_ground(label, zone.kind, zone.turf, asked.method)
    stops: list[str] = []
    notes: list[str] = []
    asks: list[str] = []
    if matched.verdict in {Match.SITE, Match.TURF, Match.NOT_TOLERANT}:
        stops.append(_refused(matched, zone))
    elif matched.verdict is Match.METHOD and asked.method:
        ways = sorted({way for use in matched.uses for way in use.method})
        stops.append(f"not labelled for {asked.method} on {zone.kind}; its label has {', '.join(ways)}")
    else:
        for told in _too_soon(following, day):
            (stops if is_sure else asks).append(told if is_sure else f"{told}; {ONLY_STACKED}")
        notes += [f"{grass} is called sensitive by the label: look at turf and rate" for grass in matched.sensitive]
        if matched.species_unknown:
            notes.append(f"the grass of {zone.id} is not in the book: see whether the label lists it")
        for limits in dict.fromkeys(limits_of(label, use) for use in matched.uses):
            for is_stop, words in _weather(limits, asked):
                (stops if is_stop else notes).append(words)
        for is_stop, words in _target(matched, asked.target):
            (stops if is_stop else notes).append(words)
        notes += _counted(allowance)
        if product.restricted_use:
            notes.append("restricted use: a certified applicator, or one under direct supervision")
    return Verdict(
        product=product.id,
        name=product.name,
        zone=zone.id,
        stops=tuple(dict.fromkeys(stops)),
        notes=tuple(dict.fromkeys(notes)),
        first_day=following.day,
        left="" if allowance.room is None else str(allowance.room),
        rates=printed_uses(matched.uses),
        source=source_of(product),
        asks=tuple(asks),
    )


def _too_soon(following: Next, day: date) -> Iterator[str]:
    if following.day is None or following.day > day:
        until = f"not before {following.day}" if following.day else "no lawful day is found"
        yield f"{until}: {following.why}" if following.why else until


def _refused(matched: Matched, zone: Zone) -> str:
    if matched.verdict is Match.SITE:
        return f"not labelled for {zone.kind}"
    what = ", ".join(matched.unlisted)
    return (
        f"the label says not to treat {what}" if matched.verdict is Match.NOT_TOLERANT else f"not labelled for {what}"
    )


def _weather(limits: Limits, asked: Asked) -> Iterator[tuple[bool, str]]:
    """Yield what wind and heat say: whether it stops, and the words."""
    lines: tuple[tuple[str, LimitLine[Quantity] | None, Quantity | None], ...] = (
        ("wind", limits.wind, asked.wind),
        ("temperature", limits.temperature, asked.temperature),
    )
    for name, limit, value in lines:
        if limit is None:
            continue
        if value is None:
            yield False, f"{name} up to {limit.value}"
        elif is_over(value, limit.value):
            quoted = f": {limit.text}" if limit.text else ""
            yield limit.force is Force.MUST, f"{name} {value} is over the label's {limit.value}{quoted}"
        else:
            yield False, f"{name} {value} is within the label's {limit.value}"


def _target(matched: Matched, target: str) -> Iterator[tuple[bool, str]]:
    """Yield what the label says of a weed it does not name: whether it stops, and the words."""
    naming = [use for use in matched.uses if use.targets]
    if not target or not naming or fold(target) in {fold(one) for use in naming for one in use.targets}:
        return
    if all(use.target_force is Force.MUST for use in naming):
        yield True, f"the label allows only the targets it names, and {target} is not one"
    elif all(use.targets for use in matched.uses):
        yield False, f"the label does not name {target}; allowed federally unless the state forbids it (FIFRA 2(ee))"


def _counted(allowance: Allowance) -> Iterator[str]:
    """Yield how many applications are left, and what the sums could not count."""
    if allowance.applications_left is not None:
        yield f"{allowance.applications_left} of {allowance.applications} applications left in the label's window"
    unknown = max((line.unknown for line in (*allowance.product_left, *allowance.actives_left)), default=0)
    if unknown:
        yield f"not in these sums: {unknown} earlier without a known amount or area"


def allowed_document(found: Allowed) -> Json:
    """Return the answer as JSON."""
    return {
        "schema": 1,
        "site": found.site,
        "day": found.day.isoformat(),
        "products": [
            {
                "product": one.product,
                "name": one.name,
                "zone": one.zone,
                "allowed": one.is_allowed,
                "stops": list(one.stops),
                "asks": list(one.asks),
                "notes": list(one.notes),
                "first_day": None if one.first_day is None else one.first_day.isoformat(),
                "left": one.left or None,
                "rates": one.rates or None,
                "source": one.source,
            }
            for one in found.verdicts
        ],
    }
