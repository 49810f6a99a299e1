"""Proves a periodic report against the annual summary, which the database sums up: equal to the last digit."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.services.periodic.engine import Sums, Tally, add_to
from records.services.periodic.uses import base_amount
from records.units import UNITS, Kind

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.services.periodic.engine import Gathered
    from records.services.periodic.layout import ReportLayout
    from records.services.ports import UseRow

_FIGURES = ("amount", "applications", "without_amount", "area", "without_area")


@dataclass(frozen=True, slots=True)
class Balance:
    """One product by one kind of measure: where its applications went, and what the annual summary says."""

    product: str
    registration: str
    measure: Kind | None  # None: amounts that are not known, or in what is no unit
    reported: Fraction  # in the base unit: fl oz, lb, or ounces of unknown kind
    other: Fraction
    left_out: Fraction
    summary: Fraction
    applications: tuple[int, int, int, int]  # in the same order


@dataclass(frozen=True, slots=True)
class Reconciliation:
    """Whether a report and the annual summary are one."""

    balances: tuple[Balance, ...]
    differences: tuple[str, ...]  # told in plain words; none: equal to the last digit

    @property
    def agrees(self) -> bool:
        """Tell whether every sum is equal."""
        return not self.differences


def summary_tally(rows: Iterable[UseRow], first: str, last: str) -> Tally:
    """Return the annual summary's sums of some months, by product and unit."""
    found: Tally = {}
    for row in rows:
        if first <= row.period <= last:
            key = (row.product_id, row.product_name, row.registration), row.amount_unit
            found.setdefault(key, Sums()).add(
                Sums(row.amount_nano, row.applications, row.no_amount, row.area_nano, row.no_area)
            )
    return found


def reconcile(got: Gathered, layout: ReportLayout, summary: Tally) -> Reconciliation:
    """Compare a report with the annual summary of the same months.

    The applications in its lines, those it does not ask for and those left out have to be all that the summary counts,
    each product and unit for itself; and the lines have to add up to what went into them.

    Args:
        got: what the engine gave.
        layout: of the report.
        summary: see `summary_tally`.
    """
    ours: Tally = {}
    for part in (got.reported, got.other, got.left_out):
        add_to(ours, part)
    differences = _compare(ours, summary, "records", "annual summary")
    if layout.has_total:
        lines: Tally = {}
        for line in got.lines:
            add_to(lines, line.tally)
        differences += _compare(lines, got.reported, "lines", "records behind them")
    return Reconciliation(_balances(got, summary), tuple(differences))


def _compare(ours: Tally, theirs: Tally, us: str, them: str) -> list[str]:
    found = []
    for key in sorted(ours.keys() | theirs.keys(), key=str):
        here, there = ours.get(key, Sums()), theirs.get(key, Sums())
        (identity, name, _), unit = key
        for figure in _FIGURES:
            one, two = getattr(here, figure), getattr(there, figure)
            if one != two:
                scale = 10**9 if figure in {"amount", "area"} else 1
                of = {"amount": f" {unit}", "area": " sq ft"}.get(figure, "")
                told = f"{us} {Fraction(one, scale)}{of}, {them} {Fraction(two, scale)}{of}"
                found.append(f"{name or identity}: {figure.replace('_', ' ')} differs: {told}")
    return found


def _balances(got: Gathered, summary: Tally) -> tuple[Balance, ...]:
    places: dict[tuple[str, str, str], tuple[Kind | None, list[Fraction], list[int]]] = {}
    for index, tally in enumerate((got.reported, got.other, got.left_out, summary)):
        for ((identity, name, number), unit), sums in tally.items():
            if not sums.applications and not sums.amount:
                continue
            measure = UNITS[unit].kind if unit in UNITS else None
            if measure not in {Kind.VOLUME, Kind.WEIGHT, Kind.OUNCE}:
                measure = None
            key = name or identity or "", number or "", str(measure)
            _, amounts, counts = places.setdefault(key, (measure, [Fraction(0)] * 4, [0] * 4))
            if measure is not None and unit is not None:
                amounts[index] += base_amount(sums.amount, unit)
            counts[index] += sums.applications
    found = []
    for (name, number, _), (measure, amounts, counts) in sorted(places.items(), key=lambda pair: _order(pair[0])):
        one, two, three, four = amounts
        found.append(
            Balance(name, number, measure, one, two, three, four, (counts[0], counts[1], counts[2], counts[3]))
        )
    return tuple(found)


def _order(key: tuple[str, str, str]) -> tuple[str, tuple[str, str, str]]:
    return key[0].casefold(), key
