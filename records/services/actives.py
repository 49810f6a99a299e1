"""Active ingredients put out on a site's zones, what their labels still allow, and the first lawful day of the next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.ceilings import Load, Sum, add_months, windows
from records.domain.product import Window
from records.rules.allowances import Allowance, Left, allowance_on
from records.rules.ground import Ground, window_words
from records.services.directory import Directory
from records.services.trials.ground import trial_sites, with_plots

if TYPE_CHECKING:
    from records.domain.history import PastUse
    from records.domain.place import Site, Zone
    from records.domain.product import Product
    from records.services.ports import UnitOfWork

ZERO = Fraction(0)
YEARS_BACK = 3  # the longest windows of labels are rolling years; older records cannot count


@dataclass(frozen=True, slots=True)
class ActivePut:
    """An active on a zone: how much was put on in the window that the day falls in, and what may still go on."""

    zone: str
    active: str
    basis: str  # "ai", "ae", or "" where records do not say
    window: str
    put: Fraction | None  # lb per sq ft, surely on some ground; None while the zone is not measured
    put_most: Fraction  # where every treatment hit the same ground
    unknown: int
    serials: tuple[str, ...]
    ceilings: tuple[Left, ...]  # of labels, all products together
    products: tuple[Allowance, ...]  # every product of the past that holds it
    days: tuple[date, ...] = ()  # on which it went on in that window, in order


def ground_of(work: UnitOfWork, site: Site, zone: Zone, day: date, history: list[PastUse] | None = None) -> Ground:
    """Return a zone with its sealed past.

    Args:
        work: a unit of work.
        site: the zone is of.
        zone: of the site.
        day: to be judged.
        history: of the site, where it is at hand.
    """
    past = history_of(work, site, day) if history is None else history
    return Ground(zone, day, (), tuple(use for use in past if use.zone == zone.id))


def history_of(work: UnitOfWork, site: Site, day: date) -> list[PastUse]:
    """Return all of a site's past that any window of a label can reach."""
    history = work.records.history(site.id, add_months(day, -12 * YEARS_BACK))
    return with_plots(work, history) if history and site.id in trial_sites(work) else history


def allowance(
    work: UnitOfWork,
    site: Site,
    zone: Zone,
    product: Product,
    day: date,
    *,
    method: str = "",
    directory: Directory | None = None,
    history: list[PastUse] | None = None,
) -> Allowance:
    """Return what may still be put of a product on a zone from a day on.

    Args:
        work: a unit of work.
        site: to be treated.
        zone: of the site.
        product: to be put on.
        day: the first that is thought of.
        method: of the application; "" lets the strictest use of the label for this ground speak.
        directory: of the same unit of work, where it is at hand.
        history: of the site, where it is at hand.
    """
    look = directory or Directory(work.catalogue)
    return allowance_on(ground_of(work, site, zone, day, history), product, look.product, method)


def put_out(work: UnitOfWork, site: Site, day: date, zone: str = "") -> list[ActivePut]:
    """Return every active put out on a site's zones, by zone and name.

    Args:
        work: a unit of work.
        site: whose past is looked at.
        day: in whose windows it is summed.
        zone: only this one, where it is given.
    """
    directory, history = Directory(work.catalogue), history_of(work, site, day)
    found = []
    for one in site.zones:
        if zone and one.id != zone:
            continue
        ground = ground_of(work, site, one, day, history)
        names = sorted({name for use in ground.past for name, _, _ in use.actives})
        found += [made for name in names if (made := _put(ground, name, directory)) is not None]
    return found


def _put(ground: Ground, active: str, directory: Directory) -> ActivePut | None:
    past = ground.past_of(active)
    keys = dict.fromkeys(use.product for use, _, _ in past)
    products = [product for key in keys if (product := directory.product(key)) is not None]
    allowed = tuple(allowance_on(ground, product, directory.product) for product in products)
    ceilings = {(line.what, line.source): line for one in allowed for line in one.actives_left if line.what == active}
    limits = [product.label.limits for product in products if product.label is not None]
    window = next((one.window for one in limits if one.active_per_year), Window("calendar year"))
    spans = windows(window, ground.day, [])
    first, last = spans[0] if spans else (date(ground.day.year, 1, 1), date(ground.day.year, 12, 31))
    loads = [
        Load(use.serial, use.day, pounds, lambda pounds=pounds: pounds or ZERO, use.area, use.treated, plot=use.plot)  # type: ignore[misc]
        for use, _, pounds in past
        if first <= use.day <= last
    ]
    total = Sum(tuple(loads), ground.area)
    if not loads and not ceilings:
        return None
    bases = {basis for _, basis, _ in past if basis}
    return ActivePut(
        zone=ground.zone.id,
        active=active,
        basis=bases.pop() if len(bases) == 1 else "",
        window=window_words(window, first),
        put=total.sure,
        put_most=total.stacked,
        unknown=total.unknown,
        serials=total.serials,
        ceilings=tuple(ceilings.values()),
        products=allowed,
        days=tuple(sorted({load.day for load in loads})),
    )
