"""The annual summary: one computation, told the same way on paper, in JSON and in CSV.

Sums are whole numbers of 10^-9 of a unit, turned into exact ratios and rounded once, when they are written. A liquid is
summed by volume and a dry product by weight; an ounce of unknown kind stays apart.
"""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from dataclasses import dataclass, field
from fractions import Fraction
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from records.domain.report_model import Chart, Column, Fact, FirmHead, Section, SummaryModel, one_line
from records.services.summary_words import CAUTIONS, MONTHS, NOT_RECORDED, day_words, fixed, serial_ranges
from records.units import UNITS, Kind, factor

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from datetime import date

    from records.domain.people import Business
    from records.services.nutrients import NutrientRow
    from records.services.ports import ActiveRow, SummaryRows, UseRow

NANO = 10**9
ONE = Fraction(1)
ACRE = 43_560  # sq ft, exactly (Federal Register 85 FR 62698)
KINDS = ("pesticide", "minimum-risk", "adjuvant", "fertilizer")

_SUMS = (
    Column("applications", "Applications", numeric=True),
    Column("gal", "Liquid, gal", numeric=True),
    Column("fl_oz", "Liquid, fl oz", numeric=True),
    Column("lb", "Dry, lb", numeric=True),
    Column("oz_wt", "Dry, oz wt", numeric=True),
    Column("oz_kind_unknown", "oz (kind unknown)", numeric=True),
    Column("sq_ft", "Area, sq ft", numeric=True),
    Column("acres", "Area, acres", numeric=True),
    Column("without_amount", "Without amount", numeric=True),
    Column("without_area", "Without area", numeric=True),
)
_NO_NUMBER = {"adjuvant": "none", "fertilizer": "none", "minimum-risk": "exempt"}  # what has none by law
_AREA_NOTE = "Area counts once for every application: two products over one lawn count it twice."
_TARGET_NOTE = "An application against two targets counts under both, so there is no total."


@dataclass(slots=True)
class Sums:
    """What is added up for a group."""

    count: int = 0
    area: int = 0  # 10^-9 sq ft
    no_amount: int = 0
    no_area: int = 0
    amounts: dict[str | None, int] = field(default_factory=dict)  # unit -> 10^-9 of it

    def add(self, row: UseRow) -> None:
        """Add one row of the book."""
        self.count += row.applications
        self.area += row.area_nano
        self.no_amount += row.no_amount
        self.no_area += row.no_area
        unit = row.amount_unit
        self.amounts[unit] = self.amounts.get(unit, 0) + row.amount_nano

    def amount(self, kind: Kind) -> tuple[int, int] | None:
        """Return the exact sum of one kind as numerator and denominator; None without any.

        The unit is the kind's base unit: fl oz, lb, or the ounce of unknown kind.
        """
        found = [(unit, nano) for unit, nano in self.amounts.items() if unit in UNITS and UNITS[unit].kind is kind]
        if not found:
            return None
        top, bottom = 0, 1
        for unit, nano in found:
            size = ONE if kind is Kind.OUNCE or unit is None else factor(unit)
            top = top * size.denominator + nano * size.numerator * bottom
            bottom *= size.denominator
        return top, bottom * NANO

    def cells(self) -> tuple[str, ...]:
        """Return the group's sums as text, in the order of `_SUMS`."""
        liquid, dry, ounces = (self.amount(kind) for kind in (Kind.VOLUME, Kind.WEIGHT, Kind.OUNCE))
        known = self.count > self.no_area
        return (
            str(self.count),
            "" if liquid is None else fixed(liquid[0], liquid[1] * 128, 3),
            "" if liquid is None else fixed(*liquid, 2),
            "" if dry is None else fixed(*dry, 3),
            "" if dry is None else fixed(dry[0] * 16, dry[1], 2),
            "" if ounces is None else fixed(*ounces, 2),
            fixed(self.area, NANO, 0) if known else "",
            fixed(self.area, NANO * ACRE, 3) if known else "",
            str(self.no_amount) if self.no_amount else "",
            str(self.no_area) if self.no_area else "",
        )


def _grouped(rows: Iterable[UseRow], key: Callable[[UseRow], Any]) -> dict[Any, Sums]:
    groups: defaultdict[Any, Sums] = defaultdict(Sums)
    for row in rows:
        groups[key(row)].add(row)
    return groups


def build_summary(
    rows: SummaryRows,
    year: int,
    business: Business | None,
    issued_on: date,
    nutrients: Sequence[NutrientRow] = (),
) -> SummaryModel:
    """Return the page model of a year.

    Args:
        rows: what the book holds of that year.
        year: the year.
        business: the firm as loaded last; None before it is.
        issued_on: the day printed as the day of issue.
        nutrients: that fertilizers put out.
    """
    months = _grouped(rows.uses, attrgetter("period"))
    total = Sums()
    for row in rows.uses:
        total.add(row)
    sections = (
        _by_product(rows, total),
        _by_active(rows.actives),
        *([_by_nutrient(nutrients)] if nutrients else []),
        _simple("by_kind", "By kind of product", ("Kind",), rows, attrgetter("product_kind"), total, order=_kind_order),
        _by_month(months, year, total),
        _simple(
            "by_person",
            "By person",
            ("Applicator", "Applicator id"),
            rows,
            attrgetter("applicator_name", "applicator_id"),
            total,
        ),
        _simple("by_site_type", "By site type", ("Site type",), rows, attrgetter("site_kind"), total),
        _by_target(rows),
        _simple("by_place", "By county and ZIP code", ("County", "ZIP"), rows, attrgetter("county", "zip"), total),
        _attention(rows),
    )
    firm = _firm(business)
    seal = rows.head or "none: the book is empty"
    return SummaryModel(
        year=year,
        title=f"Annual summary {year}",
        subject=f"Pesticide applications of {year}",
        firm=firm,
        issued=f"Issued {day_words(issued_on)}",
        issued_on=issued_on.isoformat(),
        last_seal=seal,
        facts=_facts(rows, total),
        charts=_charts(months, year),
        sections=sections,
        cautions=CAUTIONS,
    )


def _firm(business: Business | None) -> FirmHead:
    if business is None:
        return FirmHead("no firm in the book", "", "", "")
    name, address, phone, licence = (
        one_line(text) or NOT_RECORDED for text in (business.name, business.address, business.phone, business.licence)
    )
    return FirmHead(name, address, phone, f"Pesticide business licence {licence}")


def _facts(rows: SummaryRows, total: Sums) -> tuple[Fact, ...]:
    flagged = rows.flagged
    return (
        Fact("Records", str(rows.records)),
        Fact("Applications", str(total.count)),
        Fact("Deviations", str(sum(1 for row in flagged if row.deviation))),
        Fact("Incomplete", str(sum(1 for row in flagged if row.incomplete))),
        Fact("Entered late", str(sum(1 for row in flagged if row.late_days > 0))),
        Fact("Voided", str(rows.voided)),
    )


def _text(value: object) -> str:
    return one_line(value) or NOT_RECORDED


def _kind_order(key: tuple[str, ...]) -> tuple[int, str]:
    return (KINDS.index(key[0]) if key[0] in KINDS else len(KINDS), key[0])


def _simple(
    key: str,
    title: str,
    names: tuple[str, ...],
    rows: SummaryRows,
    take: Callable[[UseRow], Any],
    total: Sums,
    order: Callable[[tuple[str, ...]], Any] | None = None,
) -> Section:
    """Group by one or two columns of the book, in the order of their names."""
    groups = _grouped(rows.uses, take)
    told: list[tuple[tuple[str, ...], tuple[str, ...]]] = []
    for found, sums in groups.items():
        parts = found if isinstance(found, tuple) else (found,)
        told.append((tuple(_text(part) for part in parts), sums.cells()))
    told.sort(key=lambda pair: (order(pair[0]) if order else tuple(part.casefold() for part in pair[0]), pair[0]))
    columns = (*(Column(name.lower().replace(" ", "_"), name) for name in names), *_SUMS)
    lines = tuple((*head, *cells) for head, cells in told)
    return Section(key, title, columns, lines, ("Total", *[""] * (len(names) - 1), *total.cells()))


def _by_product(rows: SummaryRows, total: Sums) -> Section:
    groups = _grouped(
        rows.uses,
        attrgetter("product_kind", "product_name", "registration", "form", "restricted_use", "product_id"),
    )
    actives: defaultdict[tuple[str | None, ...], list[str]] = defaultdict(list)
    for row in rows.actives:
        key = (row.product_id, row.product_name, row.registration)
        actives[key].append(_active(row))
    told = []
    for (kind, name, registration, form, restricted, id_), sums in groups.items():
        head = (
            _text(name or id_),
            one_line(registration) or _NO_NUMBER.get(kind, NOT_RECORDED),
            _text(kind),
            _text(form),
            "restricted use" if restricted else "",
        )
        told.append((*head, *sums.cells(), "; ".join(sorted(actives.get((id_, name, registration), ())))))
    told.sort(key=lambda line: (_kind_order((line[2],)), line[0].casefold(), line))
    columns = (
        Column("product", "Product"),
        Column("registration", "Registration number"),
        Column("kind", "Kind"),
        Column("form", "Form"),
        Column("restricted_use", "Restricted use"),
        *_SUMS,
        Column("active_lb", "Active, lb"),
    )
    end = ("Total", "", "", "", "", *total.cells(), "")
    return Section("by_product", "By product", columns, tuple(told), end, _AREA_NOTE)


def _active(row: ActiveRow) -> str:
    told = f"{one_line(row.name)} ({_basis(row.basis)})"
    if row.pounds_nano or not row.unknown:
        told = f"{fixed(row.pounds_nano, NANO, 4)} lb {told}"
    return f"{told}, not computable for {row.unknown} applications" if row.unknown else told


def _basis(basis: str) -> str:
    return {"ae": "acid equivalent", "ai": "active ingredient"}.get(basis, one_line(basis))


def _by_active(rows: Iterable[ActiveRow]) -> Section:
    pounds: defaultdict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for row in rows:
        sums = pounds[one_line(row.name), row.basis]
        sums[0] += row.pounds_nano
        sums[1] += row.unknown
    columns = (
        Column("active", "Active ingredient"),
        Column("basis", "Counted as"),
        Column("pounds", "Active, lb", numeric=True),
        Column("not_computable", "Applications not computable", numeric=True),
    )
    lines = tuple(
        (
            name,
            _basis(basis),
            fixed(nano, NANO, 4) if nano or not unknown else "",
            str(unknown) if unknown else "",
        )
        for (name, basis), (nano, unknown) in sorted(pounds.items())
    )
    return Section("by_active", "By active ingredient", columns, lines)


def _pounds(value: Fraction) -> str:
    return fixed(value.numerator, value.denominator, 3)


def _by_nutrient(rows: Sequence[NutrientRow]) -> Section:
    columns = (
        Column("product", "Fertilizer"),
        Column("analysis", "Analysis"),
        Column("n", "N, lb", numeric=True),
        Column("p2o5", "P2O5, lb", numeric=True),
        Column("k2o", "K2O, lb", numeric=True),
        Column("not_computable", "Applications not computable", numeric=True),
    )
    lines = tuple(
        (
            one_line(row.product),
            one_line(row.analysis),
            *map(_pounds, (row.weights.n, row.weights.p2o5, row.weights.k2o)),
            str(row.unknown) if row.unknown else "",
        )
        for row in rows
    )
    every = zip(*((row.weights.n, row.weights.p2o5, row.weights.k2o) for row in rows), strict=True)
    sums = [_pounds(sum(values, Fraction(0))) for values in every]
    unknown = sum(row.unknown for row in rows)
    total = ("Total", "", *sums, str(unknown) if unknown else "")
    return Section("by_nutrient", "By nutrient", columns, lines, total)


def _by_month(months: dict[str, Sums], year: int, total: Sums) -> Section:
    periods = [f"{year}-{month:02d}" for month in range(1, 13)]
    others = sorted(set(months) - set(periods))
    empty = Sums()
    lines = tuple((_text(period), *months.get(period, empty).cells()) for period in (*periods, *others))
    return Section("by_month", "By month", (Column("month", "Month"), *_SUMS), lines, ("Total", *total.cells()))


def _by_target(rows: SummaryRows) -> Section:
    columns = (Column("target", "Target"), _SUMS[0], _SUMS[6], _SUMS[7], _SUMS[9])
    lines = []
    for row in sorted(rows.targets, key=lambda row: (row.target.casefold(), row.target)):
        cells = Sums(count=row.applications, area=row.area_nano, no_area=row.no_area).cells()
        lines.append((_text(row.target), cells[0], cells[6], cells[7], cells[9]))
    return Section("by_target", "By target", columns, tuple(lines), note=_TARGET_NOTE)


def _attention(rows: SummaryRows) -> Section:
    groups = (
        ("Deviations from label or rules", [row.serial for row in rows.flagged if row.deviation]),
        ("Incomplete records", [row.serial for row in rows.flagged if row.incomplete]),
        ("Entered after their rules' time", [row.serial for row in rows.flagged if row.late_days > 0]),
    )
    columns = (Column("what", "What"), Column("records", "Records", numeric=True), Column("serials", "Which"))
    lines = tuple((what, str(len(serials)), serial_ranges(serials)) for what, serials in groups)
    return Section("attention", "Deviations, incomplete and late records", columns, lines)


def _charts(months: dict[str, Sums], year: int) -> tuple[Chart, ...]:
    sums = [months.get(f"{year}-{month:02d}", Sums()) for month in range(1, 13)]
    charts = [_chart("Applications by month", [(one.count, 1) for one in sums], 0)]
    for kind, title, per in (
        (Kind.VOLUME, "Liquid product by month, gal", 128),
        (Kind.WEIGHT, "Dry product by month, lb", 1),
    ):
        amounts = [one.amount(kind) for one in sums]
        if any(amount is not None for amount in amounts):
            charts.append(_chart(title, [(top, bottom * per) for top, bottom in (one or (0, 1) for one in amounts)], 3))
    return tuple(charts)


def _chart(title: str, values: list[tuple[int, int]], decimals: int) -> Chart:
    ratios = [Fraction(*value) for value in values]
    most = max(ratios)
    heights = tuple(int(ratio * 1000 / most) if most else 0 for ratio in ratios)
    return Chart(title, MONTHS, tuple(fixed(*value, decimals) if value[0] else "0" for value in values), heights)


def summary_document(model: SummaryModel) -> dict[str, Any]:
    """Return the summary as a JSON document, every number as the text printed on paper."""
    return {
        "schema": 1,
        "kind": "annual summary",
        "year": model.year,
        "title": model.title,
        "issued_on": model.issued_on,
        "firm": {
            "name": model.firm.name,
            "address": model.firm.address,
            "phone": model.firm.phone,
            "licence": model.firm.licence,
        },
        "last_seal": model.last_seal,
        "totals": {fact.label.lower().replace(" ", "_"): fact.value for fact in model.facts},
        "sections": {section.key: _section_document(section) for section in model.sections},
        "charts": [
            {"title": chart.title, "values": dict(zip(chart.labels, chart.values, strict=True))}
            for chart in model.charts
        ],
        "cautions": list(model.cautions),
    }


def _section_document(section: Section) -> dict[str, Any]:
    keys = [column.key for column in section.columns]
    return {
        "title": section.title,
        "rows": [dict(zip(keys, row, strict=True)) for row in section.rows],
        "total": None if section.total is None else dict(zip(keys, section.total, strict=True)),
        "note": section.note,
    }


# Some spreadsheets take the wide forms of these signs for the signs
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", *"\uff1d\uff0b\uff0d\uff20")
_ESCAPE = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")  # XML 1.0, 2.2


def cell(text: str) -> str:
    """Return a text as a sheet's cell; one that a spreadsheet would take for a formula gets a leading apostrophe."""
    return f"'{text}" if text.startswith(_FORMULA) else text


def workbook_text(text: str) -> str:
    """Return a text that reads so in a workbook, where `_x0041_` would be read as an A (ECMA-376, ST_Xstring)."""
    if not text.isprintable():
        text = _NOT_XML.sub("\N{REPLACEMENT CHARACTER}", text)
    return _ESCAPE.sub("_x005F_", text) if "_x" in text else text


def summary_csv(model: SummaryModel) -> str:
    """Return the summary as one CSV text (RFC 4180): `section` and `line` say what a row belongs to."""
    keys: list[str] = []
    for section in model.sections:
        keys.extend(column.key for column in section.columns if column.key not in keys)
    target = io.StringIO()
    writer = csv.writer(target)
    writer.writerow(["section", "line", "fact", "value", *keys])
    head = [
        Fact("Year", str(model.year)),
        Fact("Firm", model.firm.name),
        Fact("Issued on", model.issued_on),
        Fact("Last seal", model.last_seal),
        *model.facts,
    ]
    blank = [""] * len(keys)
    for fact in head:
        writer.writerow(["summary", "fact", fact.label, cell(fact.value), *blank])
    for section in model.sections:
        places = [column.key for column in section.columns]
        ends = [] if section.total is None else [("total", section.total)]
        for line, values in [*(("row", row) for row in section.rows), *ends]:
            found = dict(zip(places, values, strict=True))
            writer.writerow([section.key, line, "", "", *(cell(found.get(key, "")) for key in keys)])
    return target.getvalue()
