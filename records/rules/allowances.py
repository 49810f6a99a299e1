"""What a label still lets go on a zone, and from which day on: amounts, actives, applications and intervals together.

The sums are those of the checks. What is `left` is there wherever the spots of the past lay: it takes every treatment
to have hit the same ground. `at_most` is what is left where they surely did not.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.ceilings import Load, Sum, add_months, must_overlap, windows
from records.domain.product import Force
from records.domain.quantities import Per
from records.domain.strength import at_least
from records.rules.ground import is_same, ordinal, past_load, visits_of, window_words
from records.rules.label_match import Match, limits_of, match_ground, source_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from records.domain.history import PastUse
    from records.domain.product import LimitLine, Limits, Product, Use, Window
    from records.domain.quantities import Rate
    from records.rules.ground import Ground

ZERO = Fraction(0)


@dataclass(frozen=True, slots=True)
class Left:
    """One ceiling of a label on a zone: what it allows, what is put out, what is left, in base units per sq ft."""

    what: str  # the product's name, or an active
    basis: str  # "ai" or "ae" of an active; "" of product
    limits: tuple[Rate, ...]  # every printed basis
    force: Force
    window: str  # in words
    put: Fraction | None  # surely on some ground; None while the zone is not measured
    put_most: Fraction  # where every treatment hit the same ground
    unknown: int  # applications without a known area or amount
    serials: tuple[str, ...]
    source: str

    @property
    def best(self) -> Rate:
        """Return the printed basis that allows most: a ceiling is passed only where it is on every one."""
        return max(self.limits, key=lambda limit: limit.base)

    @property
    def left(self) -> Fraction:
        """Return what may still go on, wherever the spots lay."""
        return max(self.best.base - self.put_most, ZERO)

    @property
    def at_most(self) -> Fraction:
        """Return what may still go on where the spots never overlapped."""
        return max(self.best.base - (self.put_most if self.put is None else self.put), ZERO)

    def left_on(self, limit: Rate) -> str:
        """Write what is left of one printed basis, as it is printed."""
        left = max(limit.base - self.put_most, ZERO)
        return f"{at_least(left / limit.base * limit.value) if limit.base else '0'} {limit.unit_text}"


@dataclass(frozen=True, slots=True)
class Room:
    """What the tightest of all ceilings leaves of a product, as product."""

    left: Fraction  # base units of product per sq ft, wherever the spots lay
    like: Rate | None  # how a rate of it is printed, to write it the same way
    ceiling: Left

    def __str__(self) -> str:
        """Return what is left as a rate of product, rounded down; of a limit printed for it, on every basis."""
        if self.like is None or self.ceiling.basis == "":
            return " or ".join(f"{self.ceiling.left_on(limit)} of {limit}" for limit in self.ceiling.limits)
        return f"{at_least(self.left / self.like.base * self.like.value)} {self.like.unit_text}"


@dataclass(frozen=True, slots=True)
class Allowance:
    """What a product's label, and those that share its actives, still allow on a zone on a day."""

    zone: str
    product: str  # id
    name: str
    day: date
    product_left: tuple[Left, ...]  # empty: no yearly amount is printed
    actives_left: tuple[Left, ...]
    applications: int | None  # the label's number; None: none is printed
    applications_left: int | None
    first_day: date | None  # the first lawful day from `day` on; None: none is found, or it is not labelled here
    because: tuple[str, ...]  # why it is not sooner, each with the label line
    source: str
    room: Room | None = None  # what the tightest ceiling leaves, an active's shared with other products too
    least: Rate | None = None  # the label's lowest rate by area here; None: it prints none
    fits_from: date | None = None  # the first lawful day on which that lowest rate fits

    @property
    def is_lawful(self) -> bool:
        """Tell whether an application is lawful on the day itself."""
        return self.first_day == self.day


def allowance_on(
    ground: Ground, product: Product, find: Callable[[str], Product | None], method: str = ""
) -> Allowance:
    """Return what is still allowed of a product on a zone on a day, before the application itself.

    Args:
        ground: the zone with its past, without an entry.
        product: to be put on.
        find: returns a product of the book by its id.
        method: of the application; "" takes every use of the label for this ground, and the strictest speaks.
    """
    label = product.label
    if label is None:
        return Allowance(
            ground.zone.id,
            product.id,
            product.name,
            ground.day,
            (),
            (),
            None,
            None,
            ground.day,
            (),
            "",
            fits_from=ground.day,
        )
    matched = match_ground(label, ground.zone.kind, ground.zone.turf, method)
    if matched.verdict not in {Match.LISTED, Match.METHOD} or (method and matched.verdict is Match.METHOD):
        what = matched.unlisted[0] if matched.unlisted else (method if matched.uses else ground.zone.kind)
        told = f"not labelled for {what} ({ground.zone.id})"
        return Allowance(
            ground.zone.id, product.id, product.name, ground.day, (), (), None, None, None, (told,), source_of(product)
        )
    every: dict[Limits, list[Use]] = {}
    for use in matched.uses:
        every.setdefault(limits_of(label, use), []).append(use)
    found = [_Case(ground, product, limits, find, lowest_rate(uses)).allowance() for limits, uses in every.items()]
    return max(found, key=lambda one: (one.first_day or date.max, one.fits_from or date.max, -_least(one)))


def lowest_rate(uses: Iterable[Use]) -> Rate | None:
    """Return the lowest rate by area that any of some uses prints; None where one of them sets no lowest."""
    printed = [rate for use in uses for rate in use.rates if rate.per is Per.AREA]
    lows = [rate.low for rate in printed if rate.low is not None]
    return min(lows, key=lambda rate: rate.base) if lows and len(lows) == len(printed) else None


def _least(one: Allowance) -> Fraction:
    """Return the smallest share that is left of any ceiling."""
    return min(
        (line.left / line.best.base for line in (*one.product_left, *one.actives_left) if line.best.base),
        default=Fraction(1),
    )


def over_label(product: Product, base: Fraction) -> str:
    """Return the ceiling of a label that one application is over, whatever the ground and the method; "" where none is.

    Args:
        product: to be put on.
        base: base units of product per sq ft.
    """
    if product.label is None:
        return ""
    source = f"[{source_of(product)}]"
    printed = [
        [rate.high for rate in use.rates if rate.high is not None and rate.high.per is Per.AREA]
        for use in product.label.uses
        if any(rate.per is Per.AREA for rate in use.rates)
    ]
    # A use that sets no most by area lets any rate be.
    if printed and all(highs and all(base > rate.base for rate in highs) for highs in printed):
        most = max(printed, key=lambda highs: max(rate.base for rate in highs))
        return f"it allows at most {' or '.join(map(str, most))} at one time {source}"
    for limits in (product.label.limits, *(use.limits for use in product.label.uses if use.limits is not None)):
        yearly = limits.per_year
        if yearly is not None and all(base > rate.base for rate in yearly.value):
            return f"it allows at most {' or '.join(map(str, yearly.value))} in its year {source}"
        for name, limit in limits.active_per_year:
            active = next((one for one in product.actives if one.name == name or not name), None)
            each = None if active is None else active.content.pounds_per_base
            if active is not None and each and base * each > limit.value.base:
                return f"it allows at most {limit.value} of {active.name} in its year {source}"
    return ""


@dataclass(frozen=True)
class _Case:
    """One product under one set of limits on one zone."""

    ground: Ground
    product: Product
    limits: Limits
    find: Callable[[str], Product | None]
    least: Rate | None

    def allowance(self) -> Allowance:
        day, limits = self.ground.day, self.limits
        count = None if limits.applications is None else limits.applications.value
        lawful = [one for one in self._candidates() if not [*self._against(one)]]
        first = lawful[0] if lawful else None
        because = tuple(dict.fromkeys(self._against(day)))
        return Allowance(
            zone=self.ground.zone.id,
            product=self.product.id,
            name=self.product.name,
            day=day,
            product_left=tuple(self._of_product(day)),
            actives_left=tuple(self._of_actives(day)),
            applications=count,
            applications_left=None if count is None else max(count - self._most_often(day), 0),
            first_day=first,
            because=because,
            source=source_of(self.product),
            room=self._room(day),
            least=self.least,
            fits_from=next((one for one in lawful if self._fits(one)), None),
        )

    def _fits(self, day: date) -> bool:
        """Tell whether the label's lowest rate fits into what is left on a day."""
        room = self._room(day)
        is_advice = room is not None and room.ceiling.force is not Force.MUST
        return room is None or is_advice or room.left >= (ZERO if self.least is None else self.least.base)

    def _room(self, day: date) -> Room | None:
        """Return what the tightest ceiling leaves of the product; advice speaks only where nothing binds."""
        limit = self.limits.per_year
        printed = [rate for use in (self.product.label.uses if self.product.label else ()) for rate in use.rates]
        rates = [one for rate in printed if rate.per is Per.AREA and (one := rate.high or rate.low) is not None]
        like = self.least or (limit.value[0] if limit is not None else next(iter(rates), None))
        found = [Room(line.left, like, line) for line in self._of_product(day)]
        contents = {active.name: active.content.pounds_per_base for active in self.product.actives}
        found += [Room(line.left / each, like, line) for line in self._of_actives(day) if (each := contents[line.what])]
        return min(found, key=lambda one: (one.ceiling.force is not Force.MUST, one.left), default=None)

    @property
    def _same(self) -> list[PastUse]:
        return [use for use in self.ground.past if is_same(self.product, use.product, use.registration)]

    def _windows(self, window: Window, day: date) -> list[tuple[date, date]]:
        return windows(window, day, [use.day for use in self.ground.past])

    def _most_often(self, day: date) -> int:
        """Return how many visits put it here, in the window that holds most of them."""
        spans = self._windows(self.limits.window, day)
        return max((len(_visits(self._same, span)) for span in spans), default=0)

    def _of_product(self, day: date) -> Iterator[Left]:
        """Yield the yearly amount of the product, in its tightest window."""
        limit = self.limits.per_year
        if limit is None:
            return
        found = [
            self._left(self.product.name, "", limit.value, limit.force, self.limits.window, span, past_load, self._same)
            for span in self._windows(self.limits.window, day)
        ]
        if found:
            yield min(found, key=lambda one: one.left)

    def _of_actives(self, day: date) -> Iterator[Left]:
        """Yield the yearly amount of each active, all products together, by each label that limits it."""
        names = {active.name for active in self.product.actives}
        for owner, limits in self._limiting(names):
            for stated, limit in limits.active_per_year:
                name = stated or (owner.actives[0].name if len(owner.actives) == 1 else "")
                if name not in names:
                    continue
                found = [
                    one
                    for span in self._windows(limits.window, day)
                    if (one := self._of_active(owner, limits, name, limit, span))
                ]
                if found:
                    yield min(found, key=lambda one: one.left)

    def _of_active(
        self, owner: Product, limits: Limits, name: str, limit: LimitLine[Rate], span: tuple[date, date]
    ) -> Left | None:
        past = self.ground.past_of(name)
        used = any(
            is_same(owner, use.product, use.registration) and span[0] <= use.day <= span[1] for use, _, _ in past
        )
        if owner.id != self.product.id and not used:
            return None  # a label speaks only where its product was used
        weights = {id(use): pounds for use, _, pounds in past}
        basis = next((one.basis for one in owner.actives if one.name == name), "ai")

        def load(use: PastUse) -> Load:
            pounds = weights[id(use)]
            return Load(use.serial, use.day, pounds, lambda: pounds or ZERO, use.area, use.treated, plot=use.plot)

        uses = [use for use, _, _ in past]
        return self._left(name, basis, (limit.value,), limit.force, limits.window, span, load, uses, source_of(owner))

    def _limiting(self, names: set[str]) -> Iterator[tuple[Product, Limits]]:
        """Yield the labels that may limit its actives: its own, then those of the zone's past."""
        yield self.product, self.limits
        for key in dict.fromkeys(use.product for use in self.ground.past):
            other = None if key == self.product.id else self.find(key)
            if other is not None and other.label is not None and names & {one.name for one in other.actives}:
                yield other, other.label.limits

    def _left(
        self,
        what: str,
        basis: str,
        limits: tuple[Rate, ...],
        force: Force,
        window: Window,
        span: tuple[date, date],
        load: Callable[[PastUse], Load],
        uses: Iterable[PastUse],
        source: str = "",
    ) -> Left:
        within = tuple(load(use) for use in uses if span[0] <= use.day <= span[1])
        total = Sum(within, self.ground.area)
        return Left(
            what=what,
            basis=basis,
            limits=limits,
            force=force,
            window=window_words(window, span[0]),
            put=total.sure,
            put_most=total.stacked,
            unknown=total.unknown,
            serials=total.serials,
            source=source or source_of(self.product),
        )

    def _candidates(self) -> list[date]:
        """Return the days on which something that stands against an application can end, from the day on."""
        day, limits = self.ground.day, self.limits
        found = {day}
        if limits.interval_days is not None:
            found.update(use.day + timedelta(limits.interval_days.value) for use in self._same)
        names = {active.name for active in self.product.actives}
        for window in dict.fromkeys([limits.window, *(one.window for _, one in self._limiting(names))]):
            found.update(_resets(window, day, [use.day for use in self.ground.past]))
        return sorted(one for one in found if one >= day)

    def _against(self, day: date) -> Iterator[str]:
        """Yield why an application on a day would not be lawful, each with the label line."""
        limits, source = self.limits, source_of(self.product)
        interval = limits.interval_days
        if interval is not None and interval.force is Force.MUST:
            for use in self._same:
                if abs((day - use.day).days) < interval.value:
                    sure = must_overlap((self.ground.area, use.treated), 1, self.ground.area)
                    doubt = "" if sure else ", if the same ground is treated"
                    days = f"{interval.value} day{'' if interval.value == 1 else 's'}"
                    yield f"{days} after {use.serial} of {use.day}{doubt} [{source}]"
        count = limits.applications
        if count is not None and count.force is Force.MUST:
            for span in self._windows(limits.window, day):
                visits = _visits(self._same, span)
                if len(visits) >= count.value:
                    yield (
                        f"it would be the {ordinal(len(visits) + 1)} application in "
                        f"{window_words(limits.window, span[0])}; the label allows {count.value} "
                        f"({', '.join(visits)}) [{source}]"
                    )
        for line in (*self._of_product(day), *self._of_actives(day)):
            if line.left == 0 and line.force is Force.MUST:
                of = f" a.{line.basis[1]}." if line.basis else ""
                yield (
                    f"{line.best} of {line.what}{of} in {line.window} is used up ({', '.join(line.serials)}) "
                    f"[{line.source}]"
                )


def _visits(uses: Iterable[PastUse], span: tuple[date, date]) -> list[str]:
    return visits_of([use for use in uses if span[0] <= use.day <= span[1]])


def _resets(window: Window, day: date, past: Sequence[date]) -> Iterator[date]:
    """Yield the days on which something drops out of a window, or a new one begins."""
    if window.kind == "calendar year":
        yield from (date(day.year + more, 1, 1) for more in (1, 2))
        return
    if window.kind == "season":
        for year in (day.year, day.year + 1, day.year + 2):
            yield date.fromisoformat(f"{year}-{window.start}")
            yield date.fromisoformat(f"{year}-{window.end}") + timedelta(1)
        return
    for use in past:
        end = add_months(use, window.length) if window.kind == "months" else use + timedelta(window.length)
        # The last days of long months have none of their own in short ones: the day it drops out on is one of these.
        yield from (end + timedelta(more) for more in range(4))
