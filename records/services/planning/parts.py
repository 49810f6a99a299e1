"""Settles what goes into a load: products at their rates, equipment with its output, zones that the labels allow."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.findings import Code
from records.domain.loaded import Problem, suggestion
from records.domain.loads import dose, strength
from records.domain.numerals import QuantityError
from records.domain.product import ProductKind
from records.domain.quantities import Form, Per, parse_rate
from records.errors import NotFoundError
from records.rules.label_match import Match, does_method, fold, match_ground
from records.services.occasions import site_of
from records.services.planning.model import Output, Part
from records.services.planning.words import printed_uses, rate_words
from records.units import Kind

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from records.domain.place import Equipment, Site, Zone
    from records.domain.product import Product, Use
    from records.domain.quantities import Quantity, Rate
    from records.services.directory import Directory
    from records.services.planning.reading import AskedLoad, AskedProduct, AskedStop


@dataclass(frozen=True, slots=True)
class Place:
    """A stop, its site and zones settled."""

    site: Site | None
    zones: tuple[Zone, ...]
    left_out: tuple[str, ...]
    area: Quantity | None
    spray: Quantity | None
    unmeasured: tuple[str, ...] = ()  # zones without an area, where the stop has none of its own


@dataclass(frozen=True, slots=True)
class Settled:
    """A load whose names are looked up."""

    asked: AskedLoad
    equipment: Equipment
    output: Output | None
    tank: Quantity | None
    parts: tuple[Part, ...]
    places: tuple[Place, ...]

    @property
    def is_spot(self) -> bool:
        """Tell whether only spots are treated."""
        return self.asked.method.startswith("spot")

    @property
    def is_spread(self) -> bool:
        """Tell whether it is spread dry."""
        return bool(self.parts) and all(part.product.form is Form.GRANULE for part in self.parts)


def settle_load(directory: Directory, asked: AskedLoad, day: date, by: str, problems: list[Problem]) -> Settled | None:
    """Look a load's names up; None beside problems.

    Args:
        directory: the book's catalogue.
        asked: the load.
        day: of the work.
        by: id of who works; their own calibration comes first.
        problems: what is wrong is added here.
    """
    before = len(problems)
    found = directory.equipment(asked.equipment) if asked.equipment else None
    if found is None and asked.equipment:
        problems.append(
            Problem(f"{asked.at}.equipment", _unknown("equipment", asked.equipment, directory.ids("equipment")))
        )
    products = [_product(one, directory, problems) for one in asked.products]
    known = [product for product in products if product is not None]
    sprayed = [product for product in known if product.form is not Form.GRANULE]
    if sprayed and len(sprayed) < len(known):
        problems.append(Problem(f"{asked.at}.products", "granules are spread dry: plan them as a load of their own"))
    elif len(known) > 1 and not sprayed:
        problems.append(Problem(f"{asked.at}.products", "one kind of granules goes into a hopper; plan each alone"))
    places = tuple(
        place for stop in asked.stops if (place := _place(stop, known, asked.method, directory, problems)) is not None
    )
    output = None if found is None else _output(directory, asked, found[0], day, by, is_spread=not sprayed)
    grounds = tuple(dict.fromkeys((zone.kind, zone.turf) for place in places for zone in place.zones))
    parts = [
        _part(one, product, asked, grounds or ((asked.ground, ()),), output, problems)
        for one, product in zip(asked.products, products, strict=True)
        if product is not None
    ]
    if len(problems) > before or found is None:
        return None
    tank = asked.tank or found[0].tank
    return Settled(asked, found[0], output, tank, tuple(part for part in parts if part is not None), places)


def _unknown(kind: str, key: str, known: Iterable[str]) -> str:
    ids = list(known)
    hint = suggestion(key, ids) or (f"known: {', '.join(sorted(ids)[:8])}" if ids else f"load the {kind} first")
    return f"{key[:40]!r} is no {kind} of the book; {hint}"


def _product(asked: AskedProduct, directory: Directory, problems: list[Problem]) -> Product | None:
    product = directory.product(asked.product) if asked.product else None
    if product is None and asked.product:
        problems.append(Problem(f"{asked.at}.product", _unknown("product", asked.product, directory.ids("product"))))
    return product


def _output(
    directory: Directory, asked: AskedLoad, equipment: Equipment, day: date, by: str, *, is_spread: bool
) -> Output | None:
    """Return the output asked for, else the newest calibration of the log, else that of the loaded document."""
    if asked.output is not None:
        return Output(asked.output, "as given")
    found = directory.output_on(equipment, day, by)
    # What a spreader was calibrated with says nothing about spray, nor the other way round.
    if found is None or (found.rate.kind is Kind.WEIGHT) is not is_spread:
        return None
    return Output(found.rate, found.words, is_stale=found.is_stale)


def _place(
    stop: AskedStop, products: Sequence[Product], method: str, directory: Directory, problems: list[Problem]
) -> Place | None:
    """Return a stop with its site and zones; None beside a problem."""
    if not stop.site:
        return None
    try:
        site, _ = site_of(directory, stop.site)
    except NotFoundError as error:
        problems.append(Problem(f"{stop.at}.site", str(error)))
        return None
    chosen, left_out = _zones(stop, site, products, method, problems)
    unmeasured = tuple(zone.id for zone in chosen if zone.area is None) if stop.area is None else ()
    return Place(site, chosen, left_out, stop.area, stop.spray, unmeasured)


def _zones(
    stop: AskedStop, site: Site, products: Sequence[Product], method: str, problems: list[Problem]
) -> tuple[tuple[Zone, ...], tuple[str, ...]]:
    """Return the zones named, or those that every label allows; and the others, each with the reason."""
    if stop.zones:
        named = []
        for key in stop.zones:
            zone = site.zone(key)
            if zone is None:
                known = ", ".join(one.id for one in site.zones)
                problems.append(Problem(f"{stop.at}.zones", f"{site.id} has no zone {key[:40]!r}; it has {known}"))
            else:
                named.append(zone)
        return tuple(named), ()
    chosen, left_out = [], []
    for zone in site.zones:
        why = next((words for product in products if (words := _refusal(product, zone, method))), "")
        if why:
            left_out.append(f"{zone.id} ({why})")
        else:
            chosen.append(zone)
    if not chosen:
        return site.zones, ()  # every stop will say why
    return tuple(chosen), tuple(left_out)


def _refusal(product: Product, zone: Zone, method: str) -> str:
    """Return why a label does not allow a zone; "" where it does, or where there is no label of a pesticide."""
    if product.label is None or not product.label.uses:
        return ""
    verdict = match_ground(product.label, zone.kind, zone.turf, method).verdict
    if verdict is Match.LISTED:
        return ""
    if verdict is Match.METHOD:
        return f"{zone.kind}: {product.name} not by {method}"
    what = zone.kind if verdict is Match.SITE else ", ".join(zone.turf)
    return f"{what}: not on the label of {product.name}"


def _part(
    asked: AskedProduct,
    product: Product,
    load: AskedLoad,
    grounds: tuple[tuple[str, tuple[str, ...]], ...],
    output: Output | None,
    problems: list[Problem],
) -> Part | None:
    uses = uses_on(product, grounds, load.method)
    lacking = lacking_on(product, grounds, load.method, load.targets)
    rate = _rate(asked, product, uses, load.method, lacking, problems)
    if rate is None:
        return None
    spray = None if output is None else output.rate
    own = [one for use in uses for one in use.rates if one.per is Per.SPRAY and rate.unit != "%"]
    return Part(
        product=product,
        rate=rate,
        lot=asked.lot,
        printed=printed_uses(uses),
        lacking=lacking,
        is_labels=not asked.rate,
        dose=None if product.form is Form.GRANULE else dose(rate, spray),
        strength=None if product.form is Form.GRANULE else strength(rate, spray),
        own_dose=", or ".join(dict.fromkeys(_ends(one.low, one.high) for one in own)),
    )


def _ends(low: Rate | None, high: Rate | None) -> str:
    if low is None or high is None:
        return f"at most {high}" if low is None else f"at least {low}"
    return f"{rate_words(low)} to {rate_words(high)}" if low.base != high.base else str(high)


def uses_on(product: Product, grounds: tuple[tuple[str, tuple[str, ...]], ...], method: str) -> tuple[Use, ...]:
    """Return the use lines of a label that speak of any of the grounds; where it names none, those of the method."""
    if product.label is None:
        return ()
    found: dict[int, Use] = {}
    for kind, turf in grounds:
        matched = match_ground(product.label, kind, turf, method)
        if matched.verdict is Match.LISTED:
            found |= {id(use): use for use in matched.uses}
    if found or grounds:
        return tuple(found.values())
    return tuple(use for use in product.label.uses if does_method(use, method))


_LACKS = {
    Match.SITE: Code.SITE_NOT_LISTED,
    Match.TURF: Code.TURF_NOT_LISTED,
    Match.NOT_TOLERANT: Code.TURF_SENSITIVE,
    Match.METHOD: Code.METHOD_NOT_ALLOWED,
}


def lacking_on(
    product: Product, grounds: tuple[tuple[str, tuple[str, ...]], ...], method: str, targets: tuple[str, ...]
) -> str:
    """Return what a label has no line for, as closing would tell it; "" where some ground has a line for all of it.

    Args:
        product: with or without a label.
        grounds: kind and grasses of each zone.
        method: of the load.
        targets: what is treated; none: not looked at.
    """
    if product.label is None:
        return "no label in the book"
    told: list[str] = []
    uses: list[Use] = []
    for kind, turf in grounds:
        matched = match_ground(product.label, kind, turf, method)
        if matched.verdict is Match.LISTED:
            uses += matched.uses
            continue
        what = kind if matched.verdict is Match.SITE else f"{method} on {kind}"
        what = ", ".join(matched.unlisted) or what
        told.append(f"no line for {what} [{_LACKS[matched.verdict].value}]")
    if not uses:
        return "; ".join(dict.fromkeys(told))
    named = {fold(target) for use in uses for target in use.targets}
    missed = [target for target in targets if fold(target) not in named] if named else []
    return f"no line for {', '.join(missed)} [{Code.TARGET_NOT_LISTED.value}]" if missed else ""


def _rate(
    asked: AskedProduct,
    product: Product,
    uses: Sequence[Use],
    method: str,
    lacking: str,
    problems: list[Problem],
) -> Rate | None:
    """Return the rate chosen, or the only one that the label prints; its maximum is never taken silently."""
    at = f"{asked.at}.rate"
    if asked.rate:
        try:
            rate = parse_rate(asked.rate, product.form)
        except QuantityError as error:
            problems.append(Problem(at, str(error)))
            return None
        if rate.value == 0:
            problems.append(Problem(at, f"{rate} is nothing; leave {product.id} out"))
            return None
        if product.form is Form.GRANULE and rate.per is Per.SPRAY:
            problems.append(
                Problem(at, f"{rate} is per spray, and {product.name} is spread dry; write 3 lb/1000 sq ft")
            )
            return None
        return rate
    every = [rate for use in uses for rate in use.rates]
    single = [rate.high for rate in every if rate.low is not None and rate.high is not None and rate.low == rate.high]
    if every and len(single) == len(every) and len(set(map(str, single))) == 1:
        return single[0]
    printed = printed_uses(uses)
    told = f"its label prints {printed} ({method})" if printed else f"its label has {lacking or 'no rate for this use'}"
    told = "it has no label in the book" if product.label is None else told
    maker = "" if product.kind is not ProductKind.ADJUVANT else "; an adjuvant is often 0.25 % v/v"
    problems.append(Problem(at, f"choose a rate for {product.name}: {told}{maker if not printed else ''}"))
    return None
