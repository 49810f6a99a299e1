"""The ground that a ceiling is judged on: one zone, what the entry puts there and what went there before."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, partial
from typing import TYPE_CHECKING

from records.domain.ceilings import Load, Sum, meeting
from records.domain.findings import Code, Finding, Severity
from records.domain.product import Force
from records.domain.visit import AreaSource
from records.rules.label_checks import lines
from records.rules.label_match import source_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import date

    from records.domain.history import PastUse
    from records.domain.place import Zone
    from records.domain.product import Product, Window
    from records.domain.quantities import Quantity, Rate
    from records.domain.visit import Line, Treatment, Visit
    from records.rules.context import Context


@dataclass(frozen=True)
class Ground:
    """One zone of the entry with the lines that touch it and its past."""

    zone: Zone
    day: date
    entry: tuple[tuple[Treatment, Line], ...]
    past: tuple[PastUse, ...]

    @property
    def area(self) -> Fraction | None:
        """Return its measured sq ft; None while it is not measured."""
        return None if self.zone.area is None else self.zone.area.base

    @cached_property
    def is_known(self) -> bool:
        """Tell whether each treatment's part of the zone is known and no larger than the zone."""
        whole = self.area
        parts = [*(use.treated for use in self.past), *(t.treated(self.zone) for t, _ in self.entry)]
        if whole is None:
            return False
        top, bottom = whole.numerator, whole.denominator
        return all(part is not None and part.numerator * bottom <= top * part.denominator for part in parts)

    @cached_property
    def _by_active(self) -> dict[str, list[tuple[PastUse, str, Fraction | None]]]:
        found: dict[str, list[tuple[PastUse, str, Fraction | None]]] = {}
        for use in self.past:
            for name in {name: None for name, _, _ in use.actives}:
                _, basis, pounds = next(one for one in use.actives if one[0] == name)
                found.setdefault(name, []).append((use, basis, pounds))
        return found

    def past_of(self, active: str) -> list[tuple[PastUse, str, Fraction | None]]:
        """Return the past uses that put an active there, with its basis and weight."""
        return self._by_active.get(active, [])


def grounds(visit: Visit, context: Context, day: date) -> Iterator[Ground]:
    """Yield each zone that the entry touches."""
    zones = {zone.id: zone for treatment in visit.treatments for zone in treatment.zones}
    for zone in zones.values():
        entry = tuple((t, line) for t, line in lines(visit) if any(z.id == zone.id for z in t.zones))
        yield Ground(zone, day, entry, tuple(use for use in context.history if use.zone == zone.id))


def is_same(product: Product, key: str, registration: str) -> bool:
    """Tell whether two catalogue names are one product: by id, or by registration number."""
    return key == product.id or bool(product.registration and registration == product.registration)


def visits_of(uses: Sequence[PastUse], own: Sequence[str] = ()) -> list[str]:
    """Return the serials of visits that may have treated the same ground, each once, in order.

    Args:
        uses: applications of the past.
        own: plots that the entry treats, "" where it treats other ground.
    """
    if not any(use.plot for use in uses):
        return list(dict.fromkeys(use.serial for use in uses))
    met = meeting(uses, own, lambda use: use.plot, lambda every: Fraction(len({use.serial for use in every})))
    return list(dict.fromkeys(use.serial for use in uses if use in met))


def severity_of(force: Force, *, sure: bool) -> Severity:
    """Return how a broken ceiling weighs."""
    if force is Force.SHOULD:
        return Severity.NOTE
    return Severity.STOP if sure else Severity.ASK


def base_of(amount: Quantity | None) -> Fraction | None:
    """Return an amount in base units; None where it or its kind is not known."""
    return None if amount is None or amount.unit == "oz" else amount.base


def load_of(line: Line, treatment: Treatment, ground: Ground) -> Load:
    """Return what a line of the entry puts on a zone."""
    area = None if treatment.area is None else treatment.area.base
    treated = treatment.treated(ground.zone)
    amount = line.amount
    if amount is None or amount.unit == "oz":
        return Load("", ground.day, None, Fraction, area, treated, plot=treatment.plot)
    is_exact = treatment.area_source in {AreaSource.ENTERED, AreaSource.DERIVED}
    least = partial(least_of, line, amount, area)
    return Load("", ground.day, amount.base, least, area, treated, is_exact, treatment.plot)


def least_of(line: Line, amount: Quantity, area: Fraction | None) -> Fraction:
    """Return the least of a product that reads as written, in base units.

    The written statements agree within their readings, so it is the highest of their lowest.

    Args:
        line: with its evidence.
        amount: of the line.
        area: treated sq ft; None where it is not known.
    """
    low = max((part.low for part in line.per_area), default=None)
    return min(amount.base_low if low is None or area is None else low * area, amount.base)


def past_load(use: PastUse) -> Load:
    """Return what a sealed application put on a zone."""
    amount = use.amount
    if amount is None or amount.unit == "oz":
        return Load(use.serial, use.day, None, Fraction, use.area, use.treated, plot=use.plot)
    return Load(use.serial, use.day, amount.base, lambda: amount.base_low, use.area, use.treated, plot=use.plot)


@dataclass(frozen=True, slots=True)
class Breach:
    """A ceiling that is broken, surely or possibly: in the window from `first` on, by `value` per sq ft."""

    first: date
    value: Fraction
    serials: tuple[str, ...]
    sure: bool


def breach(sums: Sequence[tuple[date, Sum, Sum]], bases: Sequence[Rate]) -> Breach | None:
    """Return how a ceiling is broken: on every printed basis, in any window, a certain breach before a possible one.

    Args:
        sums: first day of each window, the sum of what counts there, and the sum of what surely counts.
        bases: of the ceiling.
    """
    for first, _, certain in sums:
        if all(certain.is_certainly_over(base.base) for base in bases) and certain.sure is not None:
            return Breach(first, certain.sure, certain.serials, sure=True)
    for first, result, _ in sums:
        if all(result.is_possibly_over(base.base) for base in bases):
            return Breach(first, result.stacked, result.stacked_serials, sure=False)
    return None


_STEP = 10**12  # of a base unit per sq ft


def is_far_below(ground: Ground, put: Iterable[tuple[Fraction | None, Fraction | None]], bases: Sequence[Rate]) -> bool:
    """Tell whether a ceiling holds even if everything had hit the same ground within one window.

    That is how it mostly is, and whole numbers rounded up are enough to see it. False says nothing: the windows are
    then added up exactly.

    Args:
        ground: the zone.
        put: amount and area of every application that can count, the entry's own among them.
        bases: of the ceiling.
    """
    if not ground.is_known:
        return False
    most = 0
    for value, area in put:
        if value is None or not area:
            return False
        most += value.numerator * area.denominator * _STEP // (value.denominator * area.numerator) + 1
    return any(most * base.base.denominator <= base.base.numerator * _STEP for base in bases)


def is_worth_saying(lines_here: Sequence[tuple[Treatment, Line]]) -> bool:
    """Tell whether the entry is complete as far as it can be: what is still missing in it is told as missing."""
    return all((t.area is not None or t.extent) and (line.amount is not None or t.extent) for t, line in lines_here)


def over_sum(
    code: Code,
    ground: Ground,
    line: Line,
    found: Breach,
    bases: Sequence[Rate],
    span: str,
    force: Force,
    what: str = "",
) -> Finding:
    """Return the finding of a broken ceiling, written on the basis that the entry is written on.

    Args:
        code: of the finding.
        ground: it is broken on.
        line: of the entry, and through its product the label that says so.
        found: how it is broken.
        bases: of the ceiling, as printed.
        span: words for the window.
        force: of the label line.
        what: is counted; "" = the product.
    """
    like = [base for base in bases if line.rate is not None and base.basis == line.rate.basis]
    limit = (like or list(bases))[0]
    printed = " or ".join(str(base) for base in dict.fromkeys((limit, *bases)))
    amount = limit.like(found.value)
    before = f" with {', '.join(found.serials)}" if found.serials else ""
    tail = "" if found.sure else ", if the treatments hit the same ground: confirm if they did not"
    return Finding(
        code,
        severity_of(force, sure=found.sure),
        line.at,
        f"{what or line.product.name} on {ground.zone.id} comes to {amount} in {span}{before}; "
        f"the label of {line.product.name} allows {printed}{tail}",
        limit=f"{printed} in {span}",
        found=amount,
        source=source_of(line.product),
    )


def within_reading(
    ground: Ground,
    line: Line,
    sums: Sequence[tuple[date, Sum, Sum]],
    bases: Sequence[Rate],
    window: Window,
    what: str = "",
) -> Iterator[Finding]:
    """Yield a note where a sum is over a ceiling by arithmetic, and within it by the reading of what was written.

    An amount counts as written, with the benefit of its reading, at most 2 % of the limit; who adds the exact numbers
    up later should find that it was seen.
    """
    for first, _, certain in sums:
        sure = certain.sure
        if sure is None or not all(sure > base.base for base in bases):
            continue
        limit = max(bases, key=lambda base: base.base)
        before = f" with {', '.join(certain.serials)}" if certain.serials else ""
        yield Finding(
            Code.WITHIN_READING,
            Severity.NOTE,
            line.at,
            f"{what or line.product.name} on {ground.zone.id} comes to {limit.like(sure)} in "
            f"{window_words(window, first)}{before}, over {limit} by arithmetic and within it by the reading of the "
            "written amounts (half their last digit, at most 2 % of the limit)",
            str(limit),
            str(limit.like(sure)),
            source_of(line.product),
        )
        return


def unknown_sum(ground: Ground, line: Line, what: str, sums: Sequence[tuple[date, Sum, Sum]]) -> Iterator[Finding]:
    """Yield a note where a sum lacks something that the entry itself is not told to complete."""
    result = max((result for _, result, _ in sums), key=lambda one: one.unknown, default=None)
    if result is None or not result.unknown or not is_worth_saying(ground.entry):
        return
    before = f" ({', '.join(result.serials)} counted)" if result.serials else ""
    yield Finding(
        Code.NOT_CHECKABLE,
        Severity.NOTE,
        line.at,
        f"the {what} on {ground.zone.id} could not be checked in full: "
        f"{result.unknown} application{'s' if result.unknown > 1 else ''} without a known area or amount{before}",
        source=source_of(line.product),
    )


def window_words(window: Window, first: date) -> str:
    """Name a window."""
    if window.kind == "calendar year":
        return f"the calendar year {first.year}"
    if window.kind == "season":
        return f"the season {window.start} to {window.end}"
    return f"{window.length} {window.kind} from {first}"


def ordinal(count: int) -> str:
    """Write a count as `1st`, `2nd` ..."""
    ending = "th" if 10 <= count % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")
    return f"{count:,}{ending}"
