"""Yearly amounts, actives, counts and intervals per zone, counting the sealed history and the entry itself."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.ceilings import Load, Sum, must_overlap, total, windows
from records.domain.findings import Code, Finding, Severity
from records.domain.product import Force, LimitLine, Limits, Product, Window
from records.domain.quantities import Quantity, Rate, format_number
from records.rules.label_checks import lines, uses_for
from records.rules.label_match import limits_of, source_of

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from records.domain.history import PastUse
    from records.domain.place import Zone
    from records.domain.visit import Line, Treatment, Visit
    from records.rules.context import Context


@dataclass(frozen=True, slots=True)
class _Ground:
    """One zone of the entry with the lines that touch it and its past."""

    zone: Zone
    index: int
    day: date
    entry: tuple[tuple[Treatment, Line], ...]
    past: tuple[PastUse, ...]

    @property
    def area(self) -> Fraction | None:
        return None if self.zone.area is None else self.zone.area.base


def check_ceilings(visit: Visit, context: Context) -> Iterator[Finding]:
    """Say where a ceiling or an interval of a label is broken, surely or possibly."""
    day = visit.day
    if day is None:
        return
    told: set[tuple[Code, str, str]] = set()
    for ground in _grounds(visit, context, day):
        for treatment, line in ground.entry:
            if line.product.label is None:
                continue
            limits = limits_of(line.product.label, next(iter(uses_for(line, treatment)), None))
            for finding in _line(ground, treatment, line, limits):
                if (finding.code, line.product.id, ground.zone.id) not in told:
                    told.add((finding.code, line.product.id, ground.zone.id))
                    yield finding
        yield from _actives(ground, context)


def _grounds(visit: Visit, context: Context, day: date) -> Iterator[_Ground]:
    zones: dict[str, Zone] = {}
    for treatment in visit.treatments:
        for zone in treatment.zones:
            zones.setdefault(zone.id, zone)
    for index, zone in enumerate(zones.values()):
        entry = tuple((t, line) for t, line in lines(visit) if any(z.id == zone.id for z in t.zones))
        past = tuple(use for use in context.history if use.zone == zone.id)
        yield _Ground(zone, index, day, entry, past)


def _same(product: Product, past: PastUse) -> bool:
    return past.product == product.id or bool(product.registration and past.registration == product.registration)


def _line(ground: _Ground, treatment: Treatment, line: Line, limits: Limits) -> Iterator[Finding]:
    product = line.product
    past = [use for use in ground.past if _same(product, use)]
    own = [(t, other) for t, other in ground.entry if other.product.id == product.id]
    if own[0] != (treatment, line):
        return  # the first line of a product speaks for all of them
    if limits.interval_days is not None:
        yield from _too_soon(ground, treatment, line, past, limits.interval_days)
    if limits.applications is not None:
        yield from _too_often(ground, line, own, past, limits.applications, limits.window)
    if limits.per_year is not None:
        yield from _over_year(ground, line, own, past, limits.per_year, limits.window)


def _too_soon(
    ground: _Ground, treatment: Treatment, line: Line, past: Sequence[PastUse], limit: LimitLine[int]
) -> Iterator[Finding]:
    near = [use for use in past if abs((use.day - ground.day).days) < limit.value]
    if not near:
        return
    last = min(near, key=lambda use: abs((use.day - ground.day).days))
    days = abs((last.day - ground.day).days)
    sure = any(must_overlap((treatment.treated(ground.zone), use.treated), 1, ground.area) for use in near)
    earliest = date.fromordinal(max(use.day for use in near).toordinal() + limit.value)
    when = f"{days} days {'after' if last.day <= ground.day else 'before'} {last.serial} of {last.day}"
    tail = "" if sure else "; the spots may have been others: confirm if they were"
    yield Finding(
        Code.TOO_SOON,
        _severity(limit.force, sure=sure),
        line.at,
        f"{line.product.name} on {ground.zone.id} {when}; the label asks {limit.value} days, "
        f"so {earliest} at the earliest{tail}",
        limit=f"{limit.value} days",
        found=f"{days} days",
        source=source_of(line.product),
    )


def _severity(force: Force, *, sure: bool) -> Severity:
    if force is Force.SHOULD:
        return Severity.NOTE
    return Severity.STOP if sure else Severity.ASK


def _too_often(
    ground: _Ground,
    line: Line,
    own: Sequence[tuple[Treatment, Line]],
    past: Sequence[PastUse],
    limit: LimitLine[int],
    window: Window,
) -> Iterator[Finding]:
    for first, last in windows(window, ground.day, [use.day for use in past]):
        within = [use for use in past if first <= use.day <= last]
        visits = dict.fromkeys(use.serial for use in within)
        count = len(visits) + 1
        if count <= limit.value:
            continue
        areas = [use.treated for use in within] + [t.treated(ground.zone) for t, _ in own]
        sure = must_overlap(areas, limit.value, ground.area)
        tail = "" if sure else "; the spots may have been others: confirm if they were"
        yield Finding(
            Code.OVER_COUNT,
            _severity(limit.force, sure=sure),
            line.at,
            f"{line.product.name} on {ground.zone.id} for the {_ordinal(count)} time in {_words(window, first)}; "
            f"the label allows {limit.value} (before: {', '.join(visits)}){tail}",
            limit=f"{limit.value} in {_words(window, first)}",
            found=str(count),
            source=source_of(line.product),
        )
        return


def _load(line: Line, treatment: Treatment, zone: Zone, day: date, value: Quantity | None) -> Load:
    area = None if treatment.area is None else treatment.area.base
    # The written statements agree within their readings, so the highest of the lowest is the least that went on.
    low = max((part.low for part in line.per_area), default=None)
    if value is None:
        return Load("", day, None, Fraction(0), area, treatment.treated(zone))
    least = value.base - value.base_half if low is None or area is None else low * area
    return Load("", day, value.base, min(least, value.base), area, treatment.treated(zone))


def _past_load(use: PastUse) -> Load:
    amount = use.amount
    if amount is None or amount.unit == "oz":
        return Load(use.serial, use.day, None, Fraction(0), use.area, use.treated)
    return Load(use.serial, use.day, amount.base, amount.base - amount.base_half, use.area, use.treated)


def _over_year(
    ground: _Ground,
    line: Line,
    own: Sequence[tuple[Treatment, Line]],
    past: Sequence[PastUse],
    limit: LimitLine[tuple[Rate, ...]],
    window: Window,
) -> Iterator[Finding]:
    mine = [_load(other, t, ground.zone, ground.day, _usable(other.amount)) for t, other in own]
    bases = limit.value
    for first, last in windows(window, ground.day, [use.day for use in past]):
        loads = [_past_load(use) for use in past if first <= use.day <= last] + mine
        result = total(loads, ground.area)
        sure = all(result.is_certainly_over(base.base) for base in bases)
        possible = all(result.is_possibly_over(base.base) for base in bases)
        if sure or possible:
            yield _over_sum(Code.OVER_YEAR, ground, line, result, bases, window, first, limit.force, sure=sure)
            return
        if result.unknown and _is_worth_saying(own):
            yield _unknown(ground, line, f"amount per year of {line.product.name}", result)
            return


def _is_worth_saying(lines_here: Sequence[tuple[Treatment, Line]]) -> bool:
    """Tell whether the entry is complete as far as it can be: what is still missing in it is told as missing."""
    return all((t.area is not None or t.extent) and (line.amount is not None or t.extent) for t, line in lines_here)


def _usable(amount: Quantity | None) -> Quantity | None:
    return None if amount is None or amount.unit == "oz" else amount


def _over_sum(
    code: Code,
    ground: _Ground,
    line: Line,
    result: Sum,
    bases: Sequence[Rate],
    window: Window,
    first: date,
    force: Force,
    *,
    sure: bool,
    what: str = "",
) -> Finding:
    like = [base for base in bases if line.rate is not None and base.basis == line.rate.basis]
    limit = (like or list(bases))[0]
    value = result.even if sure and result.even is not None else result.stacked
    printed = " or ".join(str(base) for base in dict.fromkeys((limit, *bases)))
    found = limit.like(value)
    before = f" with {', '.join(result.serials)}" if result.serials else ""
    tail = "" if sure else ", if the treatments hit the same ground: confirm if they did not"
    return Finding(
        code,
        _severity(force, sure=sure),
        line.at,
        f"{what or line.product.name} on {ground.zone.id} comes to {found} in {_words(window, first)}{before}; "
        f"the label of {line.product.name} allows {printed}{tail}",
        limit=f"{printed} in {_words(window, first)}",
        found=found,
        source=source_of(line.product),
    )


def _unknown(ground: _Ground, line: Line, what: str, result: Sum) -> Finding:
    before = f" ({', '.join(result.serials)} counted)" if result.serials else ""
    return Finding(
        Code.NOT_CHECKABLE,
        Severity.NOTE,
        line.at,
        f"the {what} on {ground.zone.id} could not be checked in full: "
        f"{result.unknown} application{'s' if result.unknown > 1 else ''} without a known area or amount{before}",
        source=source_of(line.product),
    )


def _actives(ground: _Ground, context: Context) -> Iterator[Finding]:
    """Sum each active over all products that share it, against every label that limits it here."""
    names = {active.name for _, line in ground.entry for active in line.product.actives}
    told: set[str] = set()
    for product, line, limits in _limiting(ground, names, context):
        for name, limit in limits.active_per_year:
            active = name or (product.actives[0].name if len(product.actives) == 1 else "")
            if active not in names or active in told:
                continue
            finding = _over_active(ground, line, product, active, limit, limits.window)
            if finding is not None:
                told.add(active)
                yield finding


def _limiting(ground: _Ground, names: set[str], context: Context) -> Iterator[tuple[Product, Line, Limits]]:
    """Yield labels that may limit an active of the entry: its own products', then those of the zone's past."""
    seen = set()
    for treatment, line in ground.entry:
        if line.product.label is not None:
            seen.add(line.product.id)
            yield line.product, line, limits_of(line.product.label, next(iter(uses_for(line, treatment)), None))
    for use in ground.past:
        if use.product in seen or not names & {active for active, _, _ in use.actives}:
            continue
        seen.add(use.product)
        product = context.product(use.product)
        if product is not None and product.label is not None:
            shared = names & {active.name for active in product.actives}
            carrier = next(
                (line for _, line in ground.entry if shared & {active.name for active in line.product.actives}), None
            )
            if carrier is not None:
                yield product, carrier, product.label.limits


def _over_active(
    ground: _Ground, line: Line, product: Product, active: str, limit: LimitLine[Rate], window: Window
) -> Finding | None:
    mine = [
        _active_load(t, other, ground, found.pounds)
        for t, other in ground.entry
        for found in other.product.actives
        if found.name == active
    ]
    past = [use for use in ground.past if any(name == active for name, _, _ in use.actives)]
    for first, last in windows(window, ground.day, [use.day for use in past]):
        loads = [_past_active(use, active) for use in past if first <= use.day <= last] + mine
        result = total(loads, ground.area)
        top = limit.value.base
        sure, possible = result.is_certainly_over(top), result.is_possibly_over(top)
        shown = line if line.product.id == product.id else _as_of(line, product)
        if sure or possible:
            what = f"{active} ({_basis(product, active)}, all products together)"
            return _over_sum(
                Code.OVER_ACTIVE,
                ground,
                shown,
                result,
                (limit.value,),
                window,
                first,
                limit.force,
                sure=sure,
                what=what,
            )
        if result.unknown and _is_worth_saying(ground.entry):
            return _unknown(ground, shown, f"yearly {active}", result)
    return None


def _as_of(line: Line, product: Product) -> Line:
    return replace(line, product=product)


def _basis(product: Product, active: str) -> str:
    return next((f"a.{found.basis[1]}." for found in product.actives if found.name == active), "a.i.")


def _active_load(
    treatment: Treatment, line: Line, ground: _Ground, pounds: Callable[[Quantity], Fraction | None]
) -> Load:
    load = _load(line, treatment, ground.zone, ground.day, _usable(line.amount))
    weight = pounds(line.amount) if line.amount is not None else None
    if load.value is None or weight is None or not load.value:
        zero = load.value == 0 and weight is not None
        return Load("", load.day, Fraction(0) if zero else None, Fraction(0), load.area, load.treated)
    return Load("", load.day, weight, weight * load.low / load.value, load.area, load.treated)


# A sealed weight of active is rounded to nine decimals of a pound; half a step is the benefit of that rounding.
_ROUNDING = Fraction(1, 2 * 10**9)


def _past_active(use: PastUse, active: str) -> Load:
    pounds = next(value for name, _, value in use.actives if name == active)
    if pounds is None or use.amount is None:
        return Load(use.serial, use.day, None, Fraction(0), use.area, use.treated)
    amount = use.amount
    low = pounds * (amount.value - amount.half) / amount.value if amount.value else pounds
    return Load(use.serial, use.day, pounds, max(low - _ROUNDING, Fraction(0)), use.area, use.treated)


def _words(window: Window, first: date) -> str:
    if window.kind == "calendar year":
        return f"the calendar year {first.year}"
    if window.kind == "season":
        return f"the season {window.start} to {window.end}"
    return f"{window.length} {window.kind} from {first}"


def _ordinal(count: int) -> str:
    ending = "th" if 10 <= count % 100 <= 20 else {1: "st", 2: "nd", 3: "rd"}.get(count % 10, "th")
    return f"{format_number(Fraction(count))}{ending}"
