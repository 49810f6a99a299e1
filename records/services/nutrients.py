"""Nitrogen, phosphate and potash of sealed records: per zone and year, and what the state's law still lets go on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.ceilings import Load, Sum
from records.domain.numerals import QuantityError
from records.domain.nutrients import NUTRIENTS, Weights, is_turf, season_of
from records.domain.quantities import Form, parse_amount
from records.errors import InputError, NotFoundError
from records.rules.fertilizer_reading import weight_per_area
from records.services.closing.nutrient_body import nutrient_uses
from records.services.directory import Directory
from records.services.ports import Packet
from records.services.reading import read_product
from records.services.rulebook import Rulebook, day_of
from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from records.domain.nutrients import Analysis, NutrientUse
    from records.domain.place import Site, Zone
    from records.domain.product import Product
    from records.domain.quantities import Quantity
    from records.rules.fertilizer import NutrientLimit
    from records.rules.pack import Pack
    from records.services.ports import SummaryRows, UnitOfWork

VOIDED = "voided"
SHOWN = ("N", "P2O5", "K2O")
ZERO = Fraction(0)
_WANT = re.compile(
    r"(?P<amount>.+?)\s+(?:of\s+)?(?P<what>soluble\s+N|N|P2O5|P|K2O)(?:\s*(?:/|\bper\b)\s*(?P<per>.+))?", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Standing:
    """One limit of a year on a zone: what it allows and what is left, in lb per sq ft."""

    limit: NutrientLimit
    pack: str
    put: Fraction  # where every application hit the same ground

    @property
    def left(self) -> Fraction:
        """Return what may still go on this year."""
        return max(self.limit.most.base - self.put, ZERO)


@dataclass(frozen=True, slots=True)
class ZoneNutrients:
    """Nutrients put on one zone in a calendar year, in lb per sq ft, and what the law says of more."""

    site: str
    zone: str
    put: dict[str, tuple[Fraction | None, Fraction]]  # nutrient -> surely on some ground, and the most on any
    unknown: int  # applications whose weight or area is not known
    serials: tuple[str, ...]
    products: tuple[str, ...]  # names, with their analysis
    later: tuple[str, ...]  # of the records, those sealed before the analysis that they are counted by was loaded
    standings: tuple[Standing, ...]
    once: tuple[NutrientLimit, ...]  # what may go on at one time
    also: tuple[str, ...]  # phosphorus, days, water, pavement: one line each
    law: str  # id of the pack; "" where none is known for the state


@dataclass(frozen=True, slots=True)
class Dose:
    """How much product holds so much of a nutrient."""

    product: Product
    nutrient: str
    wanted: Fraction  # lb per sq ft
    rate: Fraction  # base units of product per sq ft
    area: Quantity | None

    @property
    def total(self) -> Fraction | None:
        """Return the product for the area, in base units; None where no area was given."""
        return None if self.area is None else self.rate * self.area.base


def site_nutrients(work: UnitOfWork, site: str, since: date, until: date) -> list[NutrientUse]:
    """Return what sealed records of some days say of nutrients at a site, oldest first.

    Args:
        work: a unit of work.
        site: id.
        since: first day.
        until: last day.
    """
    return [use for _, use in _uses(work, [Packet(since, until, frozenset({site}))])]


def fertilized(work: UnitOfWork, year: int) -> list[str]:
    """Return the ids of the products that put nutrients out in a year, by their analysis of that time or of now."""
    found: dict[str, None] = {}
    directory = Directory(work.catalogue)
    for key, version in dict.fromkeys((row.product_id, row.product_version) for row in work.records.summary(year).uses):
        if key and (_analysis(work, key, version) or _analysis_now(directory, key)) is not None:
            found[key] = None
    return list(found)


def _analysis_now(directory: Directory, key: str | None) -> Analysis | None:
    product = directory.product(key) if key else None
    return None if product is None else product.analysis


def _uses(work: UnitOfWork, packets: Iterable[Packet]) -> Iterator[tuple[str, NutrientUse]]:
    find = Directory(work.catalogue).product
    orders = sorted({match.order for packet in packets for match in work.records.matching(packet)})
    for stored in work.records.bodies(orders):
        if stored.action != VOIDED and stored.body["kind"] == "visit":
            site = (stored.body["site"] or {}).get("id") or ""
            for use in nutrient_uses(stored.serial, day_of(stored.body), stored.body, find):
                yield site, use


def of_site(work: UnitOfWork, site: Site, day: date) -> list[ZoneNutrients]:
    """Return the nutrients put on each zone of a site in the year of a day.

    Args:
        work: a unit of work.
        site: whose zones are told; those of turf without any nutrients too.
        day: in the year that is summed; the law is that of the day.
    """
    uses = site_nutrients(work, site.id, date(day.year, 1, 1), date(day.year, 12, 31))
    law = law_of(work, site.state, day)
    found = [_zone(site, zone, [use for use in uses if use.zone == zone.id], law) for zone in site.zones]
    return [one for one in found if one.serials or is_turf(site_zone(site, one.zone).kind)]


def of_year(work: UnitOfWork, year: int, day: date) -> list[ZoneNutrients]:
    """Return every zone of the book that nutrients were put on in a year.

    Args:
        work: a unit of work.
        year: calendar year.
        day: whose law is told.
    """
    directory = Directory(work.catalogue)
    first, last = date(year, 1, 1), date(year, 12, 31)
    packets = [Packet(first, last, product=key) for key in fertilized(work, year)]
    by_zone: dict[tuple[str, str], list[NutrientUse]] = {}
    for place, use in _uses(work, packets):
        by_zone.setdefault((place, use.zone), []).append(use)
    found = []
    for (key, name), uses in sorted(by_zone.items(), key=lambda one: one[0]):
        loaded = directory.site(key)
        zone = None if loaded is None else loaded[0].zone(name)
        if loaded is None or zone is None:
            continue
        found.append(_zone(loaded[0], zone, uses, law_of(work, loaded[0].state, day)))
    return found


def site_zone(site: Site, key: str) -> Zone:
    """Return a zone of a site.

    Raises:
        NotFoundError: it has none of that id.
    """
    zone = site.zone(key)
    if zone is None:
        known = ", ".join(one.id for one in site.zones) or "none"
        raise NotFoundError(f"{site.id} has no zone {key[:40]!r}", f"Its zones: {known}")
    return zone


def law_of(work: UnitOfWork, state: str, day: date) -> tuple[Pack, ...]:
    """Return the packs that speak of fertilizer in a state on a day."""
    directory = Directory(work.catalogue)
    found = directory.business()
    if found is None:
        return ()
    packs = Rulebook(work.catalogue).for_work(found[0], state, day, has_restricted=False, has_fertilizer=True)
    return tuple(pack for pack in packs if pack.fertilizer is not None)


def _load(use: NutrientUse, nutrient: str) -> Load:
    pounds = None if use.weights is None else use.weights.of(nutrient)
    if pounds is None and use.weights is not None:
        pounds = use.weights.n  # the slow-release share is not known: all of it may be soluble
    return Load(use.serial, use.day, pounds, lambda: (pounds or ZERO) * use.low, use.area, use.treated)


def _zone(site: Site, zone: Zone, uses: list[NutrientUse], law: tuple[Pack, ...]) -> ZoneNutrients:
    area = None if zone.area is None else zone.area.base
    sums = {name: Sum(tuple(_load(use, name) for use in uses), area) for name in SHOWN}
    standings, once, also = [], [], []
    for pack in law if is_turf(zone.kind) else ():
        rules = pack.fertilizer
        if rules is None:
            continue
        for limit in rules.limits:
            if limit.turf and limit.turf != season_of(zone.turf):
                continue
            if limit.per == "application":
                once.append(limit)
                continue
            counted = [use for use in uses if not limit.products or (use.kind or "plain") in limit.products]
            if limit.products and not counted:
                continue
            total = Sum(tuple(_load(use, limit.nutrient) for use in counted), area)
            standings.append(Standing(limit, pack.id, total.stacked))
        also += [_told(fact) for fact in rules.phosphorus]
        also += [f"no fertilizer {_told(fact)}" for fact in rules.blackout if fact.who != "homeowner"]
        also += [f"stay {_told(fact)}" for fact in rules.setback]
    return ZoneNutrients(
        site=site.id,
        zone=zone.id,
        put={name: (total.sure, total.stacked) for name, total in sums.items()},
        unknown=sums["N"].unknown,
        serials=tuple(dict.fromkeys(use.serial for use in uses)),
        products=tuple(dict.fromkeys(f"{use.name} ({use.analysis})" for use in uses)),
        later=tuple(dict.fromkeys(use.serial for use in uses if use.later)),
        standings=tuple(standings),
        once=tuple(once),
        also=tuple(also),
        law=law[0].id if law else "",
    )


def _told(fact: object) -> str:
    source = fact.source  # type: ignore[attr-defined]
    return f"{fact.told()} [{source.cited}]"  # type: ignore[attr-defined]


@dataclass(frozen=True, slots=True)
class NutrientRow:
    """Nutrients that one product put out in a year, in lb."""

    product: str  # name
    analysis: str
    applications: int
    weights: Weights
    unknown: int  # applications whose weight is not known


def year_rows(work: UnitOfWork, rows: SummaryRows) -> list[NutrientRow]:
    """Return the nutrients of a year by product, from the sums of its annual summary.

    Args:
        work: a unit of work.
        rows: of the summary; the analysis is that of the version each application was made with, or, where that had
            none, the one in the book now: told as loaded later.
    """
    sums: dict[tuple[str, str], list[NutrientRow]] = {}
    directory = Directory(work.catalogue)
    for row in rows.uses:
        sealed = _analysis(work, row.product_id, row.product_version)
        analysis = sealed or _analysis_now(directory, row.product_id)
        if analysis is None:
            continue
        unit = UNITS.get(row.amount_unit or "")
        known = unit is not None and unit.kind in {Kind.VOLUME, Kind.WEIGHT}
        base = Fraction(row.amount_nano, 10**9) * factor(row.amount_unit) if known and row.amount_unit else ZERO
        weights = analysis.of_base(base)
        unknown = row.no_amount if known and weights is not None else row.applications
        made = NutrientRow(
            row.product_name or row.product_id or "",
            analysis.text if sealed is not None else f"{analysis.text} (loaded later)",
            row.applications,
            weights or Weights(ZERO, ZERO, ZERO, None),
            unknown,
        )
        sums.setdefault((made.product, made.analysis), []).append(made)
    return [
        NutrientRow(
            product,
            analysis,
            sum(one.applications for one in found),
            Weights(
                sum((one.weights.n for one in found), ZERO),
                sum((one.weights.p2o5 for one in found), ZERO),
                sum((one.weights.k2o for one in found), ZERO),
                None,
            ),
            sum(one.unknown for one in found),
        )
        for (product, analysis), found in sorted(sums.items())
    ]


def _analysis(work: UnitOfWork, key: str | None, version: int | None) -> Analysis | None:
    entry = work.catalogue.version("product", key, version) if key and version else None
    if entry is None or not entry.body.get("analysis"):
        return None
    product = read_product(entry.body, [])
    return None if product is None else product.analysis


def dose(product: Product, want: str, area: Quantity | None = None) -> Dose:
    """Return how much of a product gives so much of a nutrient.

    Args:
        product: with an analysis.
        want: such as `1 lb N`, which is for each 1,000 sq ft, or `40 lb N/acre`.
        area: to be treated, where the whole is wanted too.

    Raises:
        InputError: the product holds none of it, or the words are not understood.
    """
    analysis = product.analysis
    if analysis is None:
        raise InputError(f"{product.name} has no analysis in the book", 'Load it with its grade: analysis = "16-4-8"')
    found = _WANT.fullmatch(want.strip())
    if found is None:
        raise InputError(f"{want[:60]!r} does not say how much of what", "Write it like: 1 lb N, or 40 lb P2O5/acre")
    nutrient = {name.lower(): name for name in NUTRIENTS}[" ".join(found["what"].split()).lower()]
    try:
        if found["per"]:
            wanted = weight_per_area(f"{found['amount']}/{found['per']}").base
        else:
            wanted = parse_amount(found["amount"], Form.DRY).base / 1000
    except QuantityError as error:
        raise InputError(str(error), "Write it like: 1 lb N, or 40 lb P2O5/acre") from error
    rate = analysis.product_for(wanted, nutrient)
    if rate is None:
        lacks = "its weight does not follow without a density" if analysis.pounds_per_base is None else "it holds none"
        raise InputError(f"{product.name} ({analysis.text}) gives no {nutrient}: {lacks}", "Choose another product")
    return Dose(product, nutrient, wanted, rate, area)
