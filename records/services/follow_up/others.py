"""Other products of the book that labels allow on a ground against a weed, with another mode of action."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta
from fractions import Fraction
from statistics import median
from typing import TYPE_CHECKING

from records.domain.product import Force
from records.domain.quantities import Per
from records.rules.ground import is_same
from records.rules.label_match import Match, does_method, fold, limits_of, match_ground, source_of
from records.rules.looks import looks
from records.services.follow_up.ratings import ratings
from records.services.follow_up.repeating import next_on
from records.services.follow_up.telling import percent
from records.services.nutrients import law_of
from records.services.stocking.entries import purchases
from records.services.stocking.prices import PriceList
from records.services.stocking.shelf import stock
from records.services.stocking.words import in_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date, datetime

    from records.domain.history import PastUse
    from records.domain.place import Site, Zone
    from records.domain.product import PrintedRate, Product, Use
    from records.services.directory import Directory
    from records.services.follow_up.ratings import Rated
    from records.services.follow_up.repeating import Next
    from records.services.follow_up.treated import Treated
    from records.services.ports import UnitOfWork

OWN_DAYS = 1100  # back to which ratings are looked at
# Lines of a label that speak of heat, drought or turf that is easily hurt.
_CAUTION = re.compile(
    r"\b(heat|hot|drought|stress|sensitiv|injur|discolou?r|temperature|established|seed)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Other:
    """A product that could be used instead."""

    product: str  # id
    name: str
    groups: tuple[str, ...]
    shared: tuple[str, ...]  # groups that what was used has as well
    targets: tuple[str, ...]  # of those wanted, which the label names; empty: it names none and restricts none
    methods: tuple[str, ...]  # by which its label allows it here, where not by the same; empty: by the same
    lines: tuple[Next, ...]  # one for each zone
    rates: tuple[str, ...]  # as printed
    cautions: tuple[str, ...]
    cost: tuple[Fraction, Fraction] | None  # per 1,000 sq ft at the lowest and the highest label rate; None: not priced
    on_hand: str  # "" where the book has no stock of it
    source: str
    own: str = ""  # what the firm's own ratings of it alone on these weeds say, with their number

    @property
    def day(self) -> date | None:
        """Return the first day on which it is lawful on all the zones."""
        days = [line.day for line in self.lines]
        known = [day for day in days if day is not None]
        return max(known) if known and len(known) == len(days) else None


@dataclass(frozen=True, slots=True)
class Others:
    """What else the book has against a weed on a ground."""

    found: tuple[Other, ...]  # with another group, soonest first
    same: tuple[str, ...]  # allowed, but with the same groups alone
    without_group: tuple[str, ...]  # allowed, but their group is not in the book


def others_of(
    work: UnitOfWork,
    directory: Directory,
    site: Site,
    treated: Treated,
    targets: Sequence[str],
    day: date,
    now: datetime,
    history: list[PastUse],
) -> Others:
    """Return the other products whose labels allow the zones of a treatment and name a target of it.

    Args:
        work: a unit of work.
        directory: of it.
        site: of the treatment.
        treated: that fell short.
        targets: that are still there.
        day: from which on a lawful day is looked for.
        now: for the stock.
        history: of the site.
    """
    zones = [zone for key in treated.zones if (zone := site.zone(key)) is not None]
    used = set(treated.groups)
    fits: list[tuple[Product, tuple[Use, ...], bool]] = []
    same: list[str] = []
    without: list[str] = []
    for product in directory.products() if zones else ():
        if any(is_same(product, line.product, line.registration) for line in treated.killers):
            continue
        uses, by_same = _uses(product, zones, treated.method, targets)
        if not uses or not product.is_pesticide:
            continue
        groups = {active.group for active in product.actives if active.group}
        if not groups:
            without.append(product.name)
        elif groups <= used:
            same.append(f"{product.name} (group {', '.join(sorted(groups))})")
        else:
            fits.append((product, uses, by_same))
    law, prices = law_of(work, site.state, day), PriceList.of(purchases(work))
    shelf = _shelf(work, now) if fits else {}
    rated = ratings(work, since=day - timedelta(OWN_DAYS), until=day) if fits else []
    found = []
    for product, uses, by_same in fits:
        method = treated.method if by_same else ""
        lines = tuple(next_on(work, directory, (site, zone), product, day, method, history, law) for zone in zones)
        groups_of = tuple(dict.fromkeys(active.group for active in product.actives if active.group))
        found.append(
            Other(
                product=product.id,
                name=product.name,
                groups=groups_of,
                shared=tuple(group for group in groups_of if group in used),
                targets=_named(uses, targets),
                methods=() if by_same else tuple(dict.fromkeys(method for use in uses for method in use.method)),
                lines=lines,
                rates=tuple(dict.fromkeys(rate_words(rate) for use in uses for rate in use.rates)),
                cautions=tuple(_cautions(product, uses, zones, treated.method if by_same else "")),
                cost=_cost(product, uses, prices, day),
                on_hand=shelf.get(product.id, ""),
                source=source_of(product),
                own=own_words(rated, product.id, targets),
            )
        )
    found.sort(key=lambda one: (one.day is None, one.day or day, len(one.shared), one.name))
    return Others(tuple(found), tuple(same), tuple(without))


def _uses(product: Product, zones: Sequence[Zone], method: str, targets: Sequence[str]) -> tuple[tuple[Use, ...], bool]:
    """Return the label's uses that allow all the zones and name a target, and whether by the same method."""
    label = product.label
    if label is None:
        return (), False
    wanted = {fold(target) for target in targets}
    by_zone = []
    for zone in zones:
        matched = match_ground(label, zone.kind, zone.turf, "")
        good = matched.uses if matched.verdict in {Match.LISTED, Match.METHOD} else ()
        uses = [use for use in good if not use.targets or not wanted or not wanted.isdisjoint(map(fold, use.targets))]
        if not uses:
            return (), False
        by_zone.append(uses)
    same = [[use for use in uses if does_method(use, method)] for uses in by_zone]
    by_same = all(same)
    return tuple(dict.fromkeys(use for uses in (same if by_same else by_zone) for use in uses)), by_same


def own_words(rated: Sequence[Rated], product: str, targets: Sequence[str]) -> str:
    """Return what the last ratings of a product that went on alone say; "" where there are none.

    Args:
        rated: by day.
        product: its id.
        targets: weeds; ratings of others do not count.
    """
    wanted = {fold(target) for target in targets}
    last: dict[tuple[str, int, str], Rated] = {}
    for one in rated:
        is_own = one.treated is not None and one.treated.key == (product,)
        if is_own and one.rating.control is not None and fold(one.rating.target) in wanted:
            last[one.rating.record, one.rating.treatment, fold(one.rating.target)] = one
    controls = [one.rating.control for one in last.values() if one.rating.control is not None]
    if not controls:
        return ""
    sites, raters = len({one.site for one in last.values()}), len({one.rating.rater for one in last.values()})
    counts = f"{_counted(sites, 'site')}, {_counted(raters, 'rater')}"
    return f"own last ratings: median {percent(Fraction(median(controls)))} control ({counts})"


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"


def _named(uses: Sequence[Use], targets: Sequence[str]) -> tuple[str, ...]:
    named = {fold(target) for use in uses for target in use.targets}
    return tuple(target for target in targets if fold(target) in named)


def rate_words(rate: PrintedRate) -> str:
    """Return a printed rate as one text."""
    if rate.low is not None and rate.high is not None and rate.low.unit_text == rate.high.unit_text:
        return (
            f"{str(rate.low).partition(' ')[0]} to {rate.high}" if str(rate.low) != str(rate.high) else str(rate.high)
        )
    ends = (("from", rate.low), ("to", rate.high)) if rate.low is not None else (("up to", rate.high),)
    return " ".join(f"{word} {end}" for word, end in ends if end is not None)


def _cautions(product: Product, uses: Sequence[Use], zones: Sequence[Zone], method: str) -> Iterator[str]:
    label = product.label
    if label is None:
        return
    for zone in zones:
        matched = match_ground(label, zone.kind, zone.turf, method)
        if matched.sensitive:
            yield f"{zone.id}: the label calls {', '.join(matched.sensitive)} sensitive"
        if matched.species_unknown:
            yield f"{zone.id}: its grasses are not in the book, and the label names some"
    for limits in dict.fromkeys(limits_of(label, use) for use in uses):
        heat, wind = limits.temperature, limits.wind
        if heat is not None:
            must = "not above" if heat.force is Force.MUST else "better not above"
            yield f'"{heat.text}"' if heat.text else f"{must} {heat.value}"
        if wind is not None:
            yield f'"{wind.text}"' if wind.text else f"wind at most {wind.value}"
    yield from (f'"{line}"' for line in label.precautions if _CAUTION.search(line))
    if product.restricted_use:
        yield "restricted use: who applies has to be certified for it, or supervised"
    early = [
        group
        for active in product.actives
        if (group := active.group) and (look := looks().get(group)) and look.is_early
    ]
    if early:
        yield f"group {early[0]} works before weeds come up; it kills none that stand (common practice)"


def _cost(product: Product, uses: Sequence[Use], prices: PriceList, day: date) -> tuple[Fraction, Fraction] | None:
    """Return what 1,000 sq ft of it cost at the lowest and the highest rate by area; None without a price or rate."""
    price = prices.price(product.id, None, day.isoformat())
    printed = [rate for use in uses for rate in use.rates if rate.per is Per.AREA]
    ends = [end.base for rate in printed for end in (rate.low, rate.high) if end is not None]
    if price is None or not ends:
        return None
    return min(ends) * 1000 * price.each, max(ends) * 1000 * price.each


def _shelf(work: UnitOfWork, now: datetime) -> dict[str, str]:
    told = {}
    for line in stock(work, now).lines:
        how = f"counted {line.counted.day}" if line.counted is not None else "by the books, never counted"
        told[line.product] = f"{in_unit(line.balance.on_hand, line.unit)} {line.unit} on hand ({how})"
    return told
