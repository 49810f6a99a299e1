"""A finished periodic report: its parts, their lines as text, and what has to be said about it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

from records.domain.quantities import decimal_text
from records.domain.report_model import one_line
from records.services.periodic.engine import Sums
from records.services.periodic.layout import FIRM
from records.services.periodic.uses import NANO
from records.services.periodic.words import number_text
from records.services.summary_words import fixed
from records.units import Kind, factor

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date

    from records.domain.people import Business
    from records.rules.pack import Pack, PeriodicReport
    from records.services.periodic.checks import Trouble
    from records.services.periodic.engine import Line
    from records.services.periodic.layout import Column, ReportLayout
    from records.services.periodic.reconcile import Balance, Reconciliation

ACRE = 43_560  # sq ft
_FEW_ACRES = 10  # from here on a screen tells areas in acres
_MANY = 1_000  # from here on a screen tells one decimal
_LONG = 300  # characters of a cell


@dataclass(frozen=True, slots=True)
class Part:
    """What goes into one file: everything, or what one person or one county is about."""

    id: str  # of the person, or the county; "" where there is one part
    name: str
    licence: str  # of the person, for the line that nothing was applied
    lines: tuple[Line, ...]

    @property
    def is_nil(self) -> bool:
        """Tell whether nothing was applied."""
        return not self.lines


@dataclass(frozen=True, slots=True)
class Report:
    """A periodic report before it is written."""

    layout: ReportLayout
    period: str  # "2026", "2026-05", or "2026-05-01 to 2026-05-31"
    since: date
    until: date
    issued_on: date
    business: Business | None
    asked: tuple[Pack, PeriodicReport] | None
    due: date | None
    parts: tuple[Part, ...]
    troubles: tuple[Trouble, ...]
    left_out: int  # applications
    why_other: Mapping[str, int]  # applications not asked for, by reason
    reconciliation: Reconciliation
    head: str  # seal of the last sealed revision of the book

    @property
    def is_early(self) -> bool:
        """Tell whether the period is not over on the day of issue."""
        return self.issued_on <= self.until

    def rows(self, part: Part, *, on_screen: bool = False) -> list[tuple[str, ...]]:
        """Return a part's lines as text, column by column; one line that says so where nothing was applied."""
        if part.is_nil:
            return [self._nil(part, on_screen=on_screen)] if self.layout.nil_column else []
        columns = self.columns(on_screen=on_screen)
        return [tuple(self._cell(line, column, on_screen=on_screen) for column in columns) for line in part.lines]

    def columns(self, *, on_screen: bool = False) -> list[Column]:
        """Return the columns of a file, or the fewer of a screen: of areas in feet and in acres, one."""
        if not on_screen:
            return list(self.layout.columns)
        known = (measure_of(line, "area_acres") for part in self.parts for line in part.lines)
        is_large = max((area for area in known if area is not None), default=0) >= _FEW_ACRES
        hidden = "area_sq_ft" if is_large else "area_acres"
        return [column for column in self.layout.columns if column.screen and column.source != hidden]

    def _nil(self, part: Part, *, on_screen: bool) -> tuple[str, ...]:
        known = {
            "filer_licence": part.licence,
            "filer_name": part.name if self.layout.split == "person" else "",
            "county": part.name if self.layout.split == "county" else "",
            "month": self.period,
        }
        cells = []
        for column in self.columns(on_screen=on_screen):
            text = self._firm(column.source) if column.source in FIRM else known.get(column.source, "")
            if column.list:
                text = self.layout.lists[column.list].code(text)
            cells.append(self.layout.nil_words if column.name == self.layout.nil_column else one_line(text, _LONG))
        return tuple(cells)

    def _firm(self, source: str) -> str:
        if self.business is None:
            return ""
        parts = {"business": self.business.name, "business_address": self.business.address}
        return parts.get(source, self.business.licence)

    def _cell(self, line: Line, column: Column, *, on_screen: bool) -> str:
        source = column.source
        if source in FIRM:
            return one_line(self._firm(source), _LONG)
        if source in self.layout.keys:
            text = line.keys[self.layout.keys.index(source)]
            return self.layout.lists[column.list].code(text) if column.list else one_line(text, _LONG)
        if source == "unit":
            return line.unit
        value = measure_of(line, source)
        if value is None:
            return ""
        if on_screen and value.denominator != 1:
            places = 0 if source == "area_sq_ft" else 1 if value >= _MANY else 3
            return fixed(value.numerator, value.denominator, places)
        return measure_text(value, source)


def measure_text(value: Fraction, source: str) -> str:
    """Return a figure of a column as text."""
    return decimal_text(value, 4) if source == "area_acres" else number_text(value)


def measure_of(line: Line, source: str) -> Fraction | None:
    """Return what a line says in a column of numbers, exact; None where it says nothing."""
    sums = Sums()
    for one in line.tally.values():
        sums.add(one)
    if source == "quantity":
        return line.base(line.measure) / factor(line.unit) if line.measure is not None and line.unit else None
    known: dict[str, Callable[[], Fraction | None]] = {
        "gallons": lambda: _scaled(_base(line, Kind.VOLUME), 128),
        "pounds": lambda: _base(line, Kind.WEIGHT),
        "ounces": lambda: _base(line, Kind.OUNCE),
        "applications": lambda: Fraction(sums.applications),
        "without_amount": lambda: Fraction(sums.without_amount) if sums.without_amount else None,
        "without_area": lambda: Fraction(sums.without_area) if sums.without_area else None,
        "area_sq_ft": lambda: _area(sums, 1),
        "area_acres": lambda: _area(sums, ACRE),
    }
    return known[source]()


def _scaled(value: Fraction | None, by: int) -> Fraction | None:
    return None if value is None else value / by


def _area(sums: Sums, size: int) -> Fraction | None:
    return None if sums.applications == sums.without_area else Fraction(sums.area, NANO * size)


def _base(line: Line, measure: Kind) -> Fraction | None:
    """Return the amount of one kind in its base unit; None where the line has none of it."""
    return line.base(measure) if line.has(measure) else None


def balance_cells(balance: Balance) -> tuple[str, str, str, str, str]:
    """Return the unit and the four amounts of a balance: in a report, not asked for, left out, in the summary."""
    amounts = (balance.reported, balance.other, balance.left_out, balance.summary)
    if balance.measure is None:
        return "applications", *(str(count) if count else "" for count in balance.applications)  # type: ignore[return-value]  # four
    large = {Kind.VOLUME: ("gal", 128), Kind.WEIGHT: ("lb", 1)}.get(balance.measure, ("oz (?)", 1))
    small = {Kind.VOLUME: ("fl oz", Fraction(1)), Kind.WEIGHT: ("oz wt", Fraction(1, 16))}.get(balance.measure, large)
    unit, size = large if balance.summary >= large[1] else small
    told = [_told(amount / size) for amount in amounts]
    return unit, told[0], told[1], told[2], told[3]


def _told(value: Fraction) -> str:
    return fixed(value.numerator, value.denominator, 3) if value else ""


def document(report: Report, files: Mapping[str, Sequence[str]] | None = None) -> dict[str, Any]:
    """Return a report as a JSON document, every number as exact text.

    Args:
        report: the report.
        files: by part, the files it was written to.
    """
    names = [column.name for column in report.columns()]
    asked = report.asked
    return {
        "schema": 1,
        "report": report.layout.id,
        "title": report.layout.title,
        "period": report.period,
        "since": report.since.isoformat(),
        "until": report.until.isoformat(),
        "pack": None if asked is None else asked[0].id,
        "source": None if asked is None else asked[1].source.cited,
        "due": None if report.due is None else report.due.isoformat(),
        "issued_on": report.issued_on.isoformat(),
        "last_seal": report.head,
        "parts": [
            {
                "id": part.id or None,
                "name": part.name or None,
                "nil": part.is_nil,
                "file": next(iter((files or {}).get(part.id, ())), None),
                "files": list((files or {}).get(part.id, ())),
                "lines": [dict(zip(names, row, strict=True)) for row in report.rows(part)],
            }
            for part in report.parts
        ],
        "not_asked_for": dict(report.why_other),
        "left_out": report.left_out,
        "problems": [
            {"code": one.code, "serial": one.serial, "at": one.at, "message": one.message, "do": one.do}
            for one in report.troubles
        ],
        "reconciliation": {
            "agrees": report.reconciliation.agrees,
            "differences": list(report.reconciliation.differences),
            "products": [_balance(one) for one in report.reconciliation.balances],
        },
    }


_BASE_UNIT = {Kind.VOLUME: "fl oz", Kind.WEIGHT: "lb", Kind.OUNCE: "oz"}


def _balance(one: Balance) -> dict[str, Any]:
    amounts = (one.reported, one.other, one.left_out, one.summary)
    names = ("reported", "not_asked_for", "left_out", "annual_summary")
    return {
        "product": one.product,
        "registration": one.registration or None,
        "unit": None if one.measure is None else _BASE_UNIT[one.measure],
        "amounts": dict(zip(names, map(number_text, amounts), strict=True)),
        "applications": dict(zip(names, one.applications, strict=True)),
    }
