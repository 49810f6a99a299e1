"""When a treatment may lawfully be repeated, zone by zone, and what the ceilings of the labels leave for it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from records.rules.ground import is_same
from records.rules.label_match import limits_of, match_ground
from records.services.actives import allowance, history_of
from records.services.nutrients import law_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from records.domain.history import PastUse
    from records.domain.place import Site, Zone
    from records.domain.product import Product
    from records.rules.allowances import Allowance, Left
    from records.rules.pack import Pack
    from records.services.directory import Directory
    from records.services.follow_up.treated import Treated
    from records.services.ports import UnitOfWork

LONGEST = 400  # days over which the end of a blackout is looked for


@dataclass(frozen=True, slots=True)
class Next:
    """The first lawful day of one product on one zone."""

    zone: str
    product: str  # name
    allowance: Allowance
    day: date | None  # None: none is found within the windows of the label
    why: str  # what sets the day, in a few words; "" where nothing stands against it
    interval: int | None = None  # days between treatments that its label asks for
    blackout: tuple[str, ...] = ()  # rules on fertilizer that put it off

    @property
    def left(self) -> tuple[str, ...]:
        """Return what every ceiling leaves, in words, each once."""
        return tuple(dict.fromkeys(map(left_words, (*self.allowance.product_left, *self.allowance.actives_left))))

    @property
    def is_by_interval(self) -> bool:
        """Tell whether the day is the one on which the label's interval ends."""
        return self.interval is not None and self.why == f"{self.interval} days interval"

    @property
    def is_silent(self) -> bool:
        """Tell whether the book's label data hold neither an interval nor a ceiling that could stand against it."""
        one = self.allowance
        return self.interval is None and not one.product_left and not one.actives_left and one.applications is None


@dataclass(frozen=True, slots=True)
class Repeat:
    """One treatment done again with the same products, each product judged on its own label."""

    name: str
    asked: date  # the day that is thought of
    lines: tuple[Next, ...]
    gone: tuple[str, ...]  # products and zones that the book does not have any more

    @property
    def zones(self) -> tuple[str, ...]:
        """Return the zones, each once."""
        return tuple(dict.fromkeys(line.zone for line in self.lines))

    def on(self, zone: str) -> Next:
        """Return the line that comes last on a zone: all products have to be lawful."""
        return max((line for line in self.lines if line.zone == zone), key=lambda line: line.day or date.max)

    @property
    def day(self) -> date | None:
        """Return the first day on which all of it is lawful everywhere; None where that is not known."""
        days = [line.day for line in self.lines]
        known = [day for day in days if day is not None]
        return max(known) if known and len(known) == len(days) and not self.gone else None


def repeat_of(
    work: UnitOfWork,
    directory: Directory,
    site: Site,
    treated: Treated,
    day: date,
    history: list[PastUse] | None = None,
) -> Repeat:
    """Return when a treatment may be repeated.

    Args:
        work: a unit of work.
        directory: of it.
        site: of the treatment.
        treated: to be repeated; with the labels that the book holds now.
        day: the first that is thought of.
        history: of the site, where it is at hand.
    """
    past = history_of(work, site, day) if history is None else history
    law = law_of(work, site.state, day)
    lines: list[Next] = []
    gone: list[str] = []
    for used in treated.killers:
        product = directory.product(used.product) if used.product else None
        if product is None:
            gone.append(used.name)
            continue
        for key in treated.zones:
            zone = site.zone(key)
            if zone is None:
                gone.append(f"zone {key}")
            else:
                lines.append(next_on(work, directory, (site, zone), product, day, treated.method, past, law))
    return Repeat(treated.name, day, tuple(lines), tuple(dict.fromkeys(gone)))


def next_on(  # the ground, the product, the day, and what is known of them
    work: UnitOfWork,
    directory: Directory,
    ground: tuple[Site, Zone],
    product: Product,
    day: date,
    method: str,
    history: list[PastUse],
    law: Sequence[Pack] = (),
) -> Next:
    """Return the first lawful day of a product on a zone, by its label, those that share its actives, and blackouts."""
    site, zone = ground
    one = allowance(work, site, zone, product, day, method=method, directory=directory, history=history)
    # An amount below the label's lowest rate would be lawful sooner, but no treatment that the label describes.
    first = one.fits_from
    span = _interval(product, zone, method)
    if one.first_day is not None and first is None:
        why = f"the label's lowest rate, {one.least}, is more than its ceilings leave"
        return Next(zone.id, product.name, one, None, why, span)
    if first is None:
        return Next(zone.id, product.name, one, None, _bare(one.because[0]) if one.because else "", span)
    lit, told = _lit(product, zone, first, law)
    if lit != first:
        return Next(zone.id, product.name, one, lit, "; ".join(told), span, told)
    return Next(zone.id, product.name, one, first, _why(product, zone, span, history, one), span)


def _interval(product: Product, zone: Zone, method: str) -> int | None:
    """Return the days that the label wants between two treatments of a zone; None where it prints none."""
    label = product.label
    if label is None:
        return None
    uses = match_ground(label, zone.kind, zone.turf, method).uses
    spans = [found.value for use in uses if (found := limits_of(label, use).interval_days) is not None]
    return max(spans, default=None)


def _why(product: Product, zone: Zone, span: int | None, history: list[PastUse], one: Allowance) -> str:
    """Return what sets the day: the interval where it ends on that day, else what stands against the day asked for."""
    first = one.fits_from or one.day
    if product.label is None:
        return "no label in the book"
    days = [use.day for use in history if use.zone == zone.id and is_same(product, use.product, use.registration)]
    last = max((day for day in days if day <= first), default=None)
    if last is not None and span is not None:
        over = last + timedelta(span)
        if over == first:
            return f"{span} days interval"
        if first == one.day and over < first:
            return f"the interval of {span} days ended on {over}"
    if first == one.day:
        return "" if span is not None else "no interval is in the book's label data"
    if one.first_day is not None and one.first_day < first:
        return f"the label's lowest rate, {one.least}, fits into its ceilings from then on"
    # Where several things stand against it, the interval ends before the window does: what is named last holds longest.
    return _bare(one.because[-1]) if one.because else ""


def _bare(reason: str) -> str:
    """Return a reason without its source, which stands beside it in full elsewhere."""
    return reason.rpartition(" [")[0] or reason


def _lit(product: Product, zone: Zone, day: date, law: Sequence[Pack]) -> tuple[date | None, tuple[str, ...]]:
    """Return the first day that no blackout of fertilizer bars, and the rules that barred those before."""
    if product.analysis is None or zone.kind.lower() != "turf":
        return day, ()
    told: dict[str, None] = {}
    for more in range(LONGEST):
        barred = list(_dark(product, day + timedelta(more), law))
        if not barred:
            return day + timedelta(more), tuple(told)
        told.update(dict.fromkeys(barred))
    return None, tuple(told)


def _dark(product: Product, day: date, law: Sequence[Pack]) -> Iterator[str]:
    for pack in law:
        for rule in () if pack.fertilizer is None else pack.fertilizer.blackout:
            if rule.who == "homeowner" or rule.above is not None or not rule.season.holds(day):
                continue
            if not rule.nutrients or (
                product.analysis is not None and product.analysis.has.intersection(rule.nutrients)
            ):
                yield f"no fertilizer {rule.season} [{pack.id}: {rule.source.cited}]"


def left_words(line: Left) -> str:
    """Write what is left of a ceiling on every basis that it is printed on."""
    basis = f" a.{line.basis[1]}." if line.basis else ""
    told = " or ".join(f"{line.left_on(limit)} of {limit}" for limit in line.limits)
    return f"{told} of {line.what}{basis} in {line.window}"


def repeat_words(one: Repeat) -> str:
    """Return the plain answer to "when can it be done again", in one sentence."""
    if not one.lines:
        return f"Whether {one.name or 'it'} may be repeated cannot be told: {', '.join(one.gone)} is not in the book"
    by_zone = {zone: one.on(zone) for zone in one.zones}
    answers = {(line.day, line.why) for line in by_zone.values()}
    gone = f"; not in the book any more: {', '.join(one.gone)}" if one.gone else ""
    if len(answers) == 1:
        return f"A repeat with {one.name} {_when(next(iter(by_zone.values())), one.asked)}{gone}"
    told = "; ".join(f"on {zone} {_when(line, one.asked)}" for zone, line in by_zone.items())
    return f"A repeat with {one.name} {told}{gone}"


def _when(line: Next, asked: date) -> str:
    why = f" ({line.why})" if line.why else ""
    if line.day is None:
        return f"has no lawful day that could be found{why}"
    if line.is_silent and line.day <= asked:
        return f"has nothing against it in the book on {asked}{why}: read the label"
    return f"is lawful now, on {asked}{why}" if line.day <= asked else f"is lawful from {line.day} on{why}"
