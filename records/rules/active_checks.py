"""Yearly ceilings of an active over one zone, summed over all products that share it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from records.domain.ceilings import Load, Sum, windows
from records.domain.findings import Code, Finding, Severity
from records.rules.ground import (
    base_of,
    breach,
    is_far_below,
    is_same,
    load_of,
    over_sum,
    unknown_sum,
    window_words,
    within_reading,
)
from records.rules.label_checks import use_on
from records.rules.label_match import limits_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from records.domain.history import PastUse
    from records.domain.product import LimitLine, Limits, Product
    from records.domain.quantities import Quantity, Rate
    from records.domain.visit import Line, Treatment
    from records.rules.context import Context
    from records.rules.ground import Ground

# A sealed weight of active is rounded to nine decimals of a pound; half a step is the benefit of that rounding.
_ROUNDING = Fraction(1, 2 * 10**9)
_WEIGHT = {Severity.STOP: 0, Severity.ASK: 1, Severity.NOTE: 2}


def active_ceilings(ground: Ground, context: Context) -> Iterator[Finding]:
    """Say for each active of the entry which label's ceiling it breaks: the one that weighs most speaks."""
    names = {active.name for _, line in ground.entry for active in line.product.actives}
    found: dict[str, list[Finding]] = {}
    for product, line, limits in _limiting(ground, names, context):
        for name, limit in limits.active_per_year:
            active = name or (product.actives[0].name if len(product.actives) == 1 else "")
            if active in names:
                found.setdefault(active, []).extend(_against(ground, line, product, active, limit, limits))
    for findings in found.values():
        if findings:
            yield min(findings, key=lambda one: (one.code is not Code.OVER_ACTIVE, _WEIGHT[one.severity]))


def _limiting(ground: Ground, names: set[str], context: Context) -> Iterator[tuple[Product, Line, Limits]]:
    """Yield labels that may limit an active of the entry: its own products', then those of the zone's past."""
    seen = set()
    for treatment, line in ground.entry:
        if line.product.label is not None:
            seen.add(line.product.id)
            yield line.product, line, limits_of(line.product.label, use_on(line, treatment, ground.zone))
    for use in ground.past:
        if use.product in seen or names.isdisjoint(active for active, _, _ in use.actives):
            continue
        seen.add(use.product)
        product = context.product(use.product)
        if product is None or product.label is None or not product.label.limits.active_per_year:
            continue
        shared = names & {active.name for active in product.actives}
        for _, line in ground.entry:
            if shared & {active.name for active in line.product.actives}:
                # What the entry puts on has to fit under the other product's label too.
                yield product, replace(line, product=product), product.label.limits
                break


def _against(
    ground: Ground, line: Line, product: Product, active: str, limit: LimitLine[Rate], limits: Limits
) -> Iterator[Finding]:
    basis = next((one.basis for one in product.actives if one.name == active), "ai")
    past = ground.past_of(active)
    own = [
        (one.pounds(other.amount) if other.amount is not None else None, base_of(t.area))
        for t, other in ground.entry
        for one in other.product.actives
        if one.name == active
    ]
    before = [(None if use.amount is None else pounds, use.area) for use, _, pounds in past]
    if is_far_below(ground, before + own, (limit.value,)):
        return
    mine = [
        (one.basis, _load(t, other, ground, one.pounds(other.amount) if other.amount is not None else None))
        for t, other in ground.entry
        for one in other.product.actives
        if one.name == active
    ]
    used = [use.day for use, _, _ in past if is_same(product, use.product, use.registration)]
    used += [ground.day for _, other in ground.entry if other.product.id == product.id]
    sums = []
    for first, last in windows(limits.window, ground.day, [use.day for use, _, _ in past]):
        if not any(first <= day <= last for day in used):
            continue  # a label speaks only where its product was used
        loads = [(stated, _past(use, pounds)) for use, stated, pounds in past if first <= use.day <= last] + mine
        # A salt weighs more than its acid: what is stated on the other basis counts for what may be, not for what is.
        alike = tuple(load for stated, load in loads if stated in {"", basis})
        everything = Sum(tuple(load for _, load in loads), ground.area)
        sums.append((first, everything, everything if len(alike) == len(loads) else Sum(alike, ground.area)))
    broken = breach(sums, (limit.value,))
    if broken is None:
        told = f"{active} (a.{basis[1]}., all products together)"
        yield from within_reading(ground, line, sums, (limit.value,), limits.window, told)
        yield from unknown_sum(ground, line, f"yearly {active}", sums)
        return
    what = f"{active} (a.{basis[1]}., all products together)"
    span = window_words(limits.window, broken.first)
    yield over_sum(Code.OVER_ACTIVE, ground, line, broken, (limit.value,), span, limit.force, what)


def _load(treatment: Treatment, line: Line, ground: Ground, pounds: Fraction | None) -> Load:
    load = load_of(line, treatment, ground)
    if load.value is None or pounds is None:
        return load._replace(value=None)
    whole = load.value
    return load._replace(value=pounds, low_of=lambda: pounds * load.low / whole if whole else Fraction(0))


def _past(use: PastUse, pounds: Fraction | None) -> Load:
    amount = use.amount
    if pounds is None or amount is None:
        return Load(use.serial, use.day, None, Fraction, use.area, use.treated, plot=use.plot)
    least = partial(_least, pounds, amount)
    return Load(use.serial, use.day, pounds, least, use.area, use.treated, plot=use.plot)


def _least(pounds: Fraction, amount: Quantity) -> Fraction:
    low = pounds * (amount.value - amount.half) / amount.value if amount.value else pounds
    return max(low - _ROUNDING, Fraction(0))
