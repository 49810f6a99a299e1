"""The season's six pictures."""

from __future__ import annotations

from collections import defaultdict
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.chart_model import Bar, BarChart
from records.domain.quantities import format_number
from records.domain.report_model import one_line
from records.services.costing.words import dollars
from records.services.season.figures import hours_of, part_of
from records.services.season.gather import AGAIN, middle
from records.services.summary_words import MONTHS, NOT_RECORDED

if TYPE_CHECKING:
    from collections.abc import Callable

    from records.services.follow_up import Treated
    from records.services.season.gather import Visit, Year

BARS = 8  # of a chart; the tables have all


def charts_of(year: Year) -> tuple[BarChart, ...]:
    """Return the pictures of a year."""
    return (
        _monthly(year, "Visits by month", "visits", lambda visits: Fraction(len(visits))),
        _monthly(year, "Hours on site by month", "hours", hours_of),
        _cost(year),
        _products(year),
        _control(year),
        _again(year),
    )


def _monthly(year: Year, title: str, label: str, of: Callable[[list[Visit]], Fraction]) -> BarChart:
    bars = []
    for number, name in enumerate(MONTHS, 1):
        visits = [one for one in year.visits if one.day.month == number]
        if visits:
            value = of(visits)
            bars.append(Bar(name, value, format_number(value, 1)))
    return BarChart(title, label, tuple(bars), is_alike=True)


def _cost(year: Year) -> BarChart:
    bars = []
    for number, name in enumerate(MONTHS, 1):
        spent = year.months.get(f"{year.year}-{number:02d}")
        if spent is not None and spent.is_priced:
            bars.append(Bar(name, spent.cost, dollars(spent.cost)))
    return BarChart("Products cost by month", "US dollars, as bought", tuple(bars), is_alike=True)


def _left(count: int, what: str) -> tuple[str, ...]:
    return (f"{count - BARS} more {what} stand in the tables",) if count > BARS else ()


def _products(year: Year) -> BarChart:
    sums: defaultdict[str, int] = defaultdict(int)
    for row in year.totals.uses if year.totals is not None else ():
        sums[row.product_name or NOT_RECORDED] += row.applications
    top = sorted(sums.items(), key=lambda one: (-one[1], one[0]))
    bars = tuple(Bar(one_line(name, 40), Fraction(count), str(count)) for name, count in top[:BARS])
    return BarChart("Applications by product", "applications", bars, notes=_left(len(top), "products"), is_alike=True)


def _control(year: Year) -> BarChart:
    groups: defaultdict[str, list[Fraction]] = defaultdict(list)
    names = {(one.serial, one.index): one.name for one in year.treated}
    for (serial, index, _), value in year.controls.items():
        groups[names[serial, index]].append(value)
    top = sorted(groups.items(), key=lambda one: (-len(one[1]), one[0]))
    bars = []
    for name, values in top[:BARS]:
        found, low = middle(values), max(min(values), Fraction(0))
        text = "" if found is None else f"{int(found)} %"
        bars.append(Bar(one_line(name, 40), found, text, low, max(values), f"n {len(values)}"))
    notes = ("whiskers: lowest and highest rating", *_left(len(top), "products"))
    return BarChart(
        "Control by product", "median at the last look, %", tuple(bars), Fraction(100), notes, is_alike=True
    )


def _again(year: Year) -> BarChart:
    groups: defaultdict[str, list[Treated]] = defaultdict(list)
    for one in year.treated:
        for target in one.targets:
            groups[target].append(one)
    top = sorted(groups.items(), key=lambda one: (-len(one[1]), one[0]))
    bars = []
    for name, treated in top[:BARS]:
        again, known = part_of(year, treated)
        rate = Fraction(100 * again, known) if known else None
        text = "not known" if rate is None else f"{round(rate)} %"
        bars.append(Bar(one_line(name, 40), rate, text, note=f"{again} of {known}" if known else ""))
    label = f"% treated again within {AGAIN} days"
    return BarChart("Treated again, by weed", label, tuple(bars), notes=_left(len(top), "weeds"), is_alike=True)
