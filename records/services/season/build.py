"""The season as facts, tables and charts: one computation for screen, paper, sheets and programs.

Every table has two faces: short texts for screen and paper, and columns of bare numbers for sheets and programs, where
a share stands as part and whole and a median beside its number.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from records.domain.quantities import decimal_text
from records.domain.report_model import Column, Fact, one_line
from records.services.costing.words import dollars, exact
from records.services.season.charts import charts_of
from records.services.season.figures import amount_parts, amount_text, control_text, hours_text, part_of, share
from records.services.season.gather import AGAIN, Visit, Year, middle
from records.services.summarising import ACRE, NANO, Sums, build_summary
from records.services.summary_words import CAUTIONS, MONTHS, NOT_RECORDED, day_words, fixed

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from records.domain.chart_model import BarChart
    from records.services.costing.report import CostRow
    from records.services.follow_up import Treated

HOURS_NOTE = "Hours are from start to end of the visits; driving and mixing are not in them."
AGAIN_NOTE = (
    f"Again: treatments that were followed by more work against a weed of theirs on their ground within {AGAIN} days, "
    "of those whose ground is recorded."
)
CONTROL_NOTE = (
    "Control is the median at the last look of each mode of action (swathbook looks --why GROUP), before any repeat; n "
    "counts weeds of treatments."
)
MONEY_NOTE = "Cost is what products cost as bought, adjuvants included; work and fuel are not in it."

Figure = str | None  # of a sheet: a plain number, or a word


@dataclass(frozen=True, slots=True)
class Table:
    """One table: what a person reads, and what a sheet holds."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    keys: tuple[str, ...]  # of the sheet's columns
    figures: tuple[tuple[Figure, ...], ...]  # the sheet's rows
    total: tuple[str, ...] | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Season:
    """The page model."""

    year: int
    title: str
    firm: str
    issued: str
    issued_on: str
    last_seal: str
    facts: tuple[Fact, ...]
    figures: dict[str, Figure]  # the facts for a program
    charts: tuple[BarChart, ...]
    sections: tuple[Table, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def build_season(year: Year) -> Season:
    """Return the page model of a year."""
    notes = [HOURS_NOTE, MONEY_NOTE, CONTROL_NOTE, AGAIN_NOTE]
    if year.month_totals:
        totals = (
            f"{year.month_totals} imported totals of months count in products and actives alone: they are no visits."
        )
        notes.append(totals)
    if not year.visits and year.year not in year.years:
        known = ", ".join(map(str, year.years)) or "none"
        notes.insert(0, f"The book holds no records of {year.year}; years with records: {known}.")
    if year.wrong:
        notes.append(f"Wrong for an inspector: {year.wrong}; the command swathbook ready tells what, and what to do.")
    facts, figures = _facts(year)
    return Season(
        year=year.year,
        title=f"Season {year.year}",
        firm="" if year.business is None else one_line(year.business.name),
        issued=f"Issued {day_words(year.today)}",
        issued_on=year.today.isoformat(),
        last_seal=year.head or "none: the book is empty",
        facts=facts,
        figures=figures,
        charts=charts_of(year),
        sections=(
            _by_month(year),
            _by_person(year),
            _by_product(year),
            _by_target(year),
            _by_active(year),
            _to_mind(year),
        ),
        notes=tuple(notes),
        cautions=CAUTIONS,
    )


def _facts(year: Year) -> tuple[tuple[Fact, ...], dict[str, Figure]]:
    sites = {one.site for one in year.treated if one.site}
    area = sum((one.area for one in year.treated if one.area is not None), Fraction(0))
    no_area = sum(one.area is None for one in year.treated)
    acres = fixed(area.numerator, area.denominator * ACRE, 2) + (f" ({no_area} without)" if no_area else "")
    spent = year.spent
    money = NOT_RECORDED if spent is None or not spent.is_priced else dollars(spent.cost)
    if spent is not None and spent.unpriced and spent.is_priced:
        money += f" ({spent.unpriced} applications without a price)"
    judged = len({(serial, index) for serial, index, _ in year.controls})
    again, known = part_of(year, year.treated)
    controls = list(year.controls.values())
    facts = (
        Fact("Visits", str(len(year.visits))),
        Fact("Weed treatments", str(len(year.treated))),
        Fact("Lawns and other sites", str(len(sites))),
        Fact("Hours on site", hours_text(year.visits)),
        Fact("Ground treated, acres", acres),
        Fact("Products cost", money),
        Fact("Treated again", share(again, known) or "not known"),
        Fact("Judged at last look", share(judged, len(year.treated)) or "none"),
        Fact("Control, median", control_text(controls) or "not rated"),
        Fact("Over a limit, signed for", str(sum(one.is_deviation for one in year.visits))),
        Fact("Late records", str(sum(one.is_late for one in year.visits))),
        Fact("Incomplete records", str(sum(one.is_incomplete for one in year.visits))),
        Fact("Held, not sealed", str(year.held)),
        Fact("Wrong for an inspector", "no record" if year.wrong is None else str(year.wrong)),
    )
    found = middle(controls)
    return facts, {
        "visits": str(len(year.visits)),
        "treatments": str(len(year.treated)),
        "sites": str(len(sites)),
        "minutes": str(sum(one.minutes or 0 for one in year.visits)),
        "visits_without_minutes": str(sum(one.minutes is None for one in year.visits)),
        "sq_ft": decimal_text(area, 6),
        "treatments_without_area": str(no_area),
        "cost": None if spent is None or not spent.is_priced else exact(spent.cost),
        "applications_without_price": "0" if spent is None else str(spent.unpriced),
        "again": str(again),
        "again_known": str(known),
        "judged": str(judged),
        "control_median": None if found is None else decimal_text(found, 2),
        "control_n": str(len(controls)),
        "over_limit": str(sum(one.is_deviation for one in year.visits)),
        "late": str(sum(one.is_late for one in year.visits)),
        "incomplete": str(sum(one.is_incomplete for one in year.visits)),
        "held": str(year.held),
        "wrong_for_an_inspector": None if year.wrong is None else str(year.wrong),
    }


def _controls_of(year: Year, treated: Iterable[Treated], target: str = "") -> list[Fraction]:
    wanted = {(one.serial, one.index) for one in treated}
    return [
        value
        for (serial, index, name), value in year.controls.items()
        if (serial, index) in wanted and (not target or name == target)
    ]


RESULT = (Column("again", "Again", numeric=True), Column("control", "Control", numeric=True))
RESULT_KEYS = ("again", "again_known", "control_median", "control_n")
WORK = (
    Column("visits", "Visits", numeric=True),
    Column("hours", "Hours", numeric=True),
    Column("treatments", "Treated", numeric=True),
    *RESULT,
    Column("over_limit", "Over", numeric=True),
    Column("late", "Late", numeric=True),
    Column("incomplete", "Gaps", numeric=True),
)
WORK_KEYS = ("visits", "minutes", "treatments", *RESULT_KEYS, "over_limit", "late", "incomplete")


def _result(year: Year, treated: Sequence[Treated], target: str = "") -> tuple[tuple[str, str], tuple[Figure, ...]]:
    """Return how often it had to be done again, and control: as texts, and as numbers."""
    again, known = part_of(year, treated)
    values = _controls_of(year, treated, target)
    found = middle(values)
    figures = (str(again), str(known), None if found is None else decimal_text(found, 2), str(len(values)))
    return (f"{again} of {known}" if known else "", control_text(values)), figures


def _work(year: Year, visits: list[Visit], treated: list[Treated]) -> tuple[tuple[str, ...], tuple[Figure, ...]]:
    texts, figures = _result(year, treated)
    ends = (
        str(sum(one.is_deviation for one in visits)),
        str(sum(one.is_late for one in visits)),
        str(sum(one.is_incomplete for one in visits)),
    )
    shown = (str(len(visits)), hours_text(visits), str(len(treated)), *texts, *ends)
    minutes = str(sum(one.minutes or 0 for one in visits))
    return shown, (str(len(visits)), minutes, str(len(treated)), *figures, *ends)


def _money(row: CostRow | None) -> tuple[str, Figure]:
    return ("", None) if row is None or not row.is_priced else (dollars(row.cost), exact(row.cost))


def _by_month(year: Year) -> Table:
    rows, figures = [], []
    for number, name in enumerate(MONTHS, 1):
        visits = [one for one in year.visits if one.day.month == number]
        if visits:
            shown, bare = _work(year, visits, [one for one in year.treated if one.day.month == number])
            text, cost = _money(year.months.get(f"{year.year}-{number:02d}"))
            rows.append((name, *shown, text))
            figures.append((f"{year.year}-{number:02d}", *bare, cost))
    total = ("Total", *_work(year, year.visits, year.treated)[0], _money(year.spent)[0])
    columns = (Column("month", "Month"), *WORK, Column("cost", "Cost", numeric=True))
    keys = ("month", *WORK_KEYS, "cost")
    return Table("by_month", "By month", columns, tuple(rows), keys, tuple(figures), total if rows else None)


def _by_person(year: Year) -> Table:
    rows, figures = [], []
    for name in sorted({one.person for one in year.visits}):
        shown, bare = _work(
            year,
            [one for one in year.visits if one.person == name],
            [one for one in year.treated if (one.applicator or NOT_RECORDED) == name],
        )
        rows.append((one_line(name), *shown))
        figures.append((one_line(name), *bare))
    columns, keys = (Column("person", "Person"), *WORK), ("person", *WORK_KEYS)
    return Table("by_person", "By person", columns, tuple(rows), keys, tuple(figures))


def _by_product(year: Year) -> Table:
    sums: defaultdict[tuple[str, str], Sums] = defaultdict(Sums)
    for row in year.totals.uses if year.totals is not None else ():
        sums[row.product_id or "", row.product_name or NOT_RECORDED].add(row)
    rows, figures = [], []
    for (key, name), total in sorted(sums.items(), key=lambda one: (-one[1].count, one[0])):
        treated = [one for one in year.treated if key and any(line.product == key for line in one.killers)]
        texts, bare = _result(year, treated)
        text, cost = _money(year.money.get(key))
        acres = fixed(total.area, NANO * ACRE, 3) if total.count > total.no_area else ""
        sq_ft = decimal_text(Fraction(total.area, NANO), 9) if total.count > total.no_area else None
        rows.append((one_line(name), str(total.count), amount_text(total), acres, text, *texts))
        figures.append((key, one_line(name), str(total.count), *amount_parts(total), sq_ft, cost, *bare))
    columns = (
        Column("product", "Product"),
        Column("applications", "Applications", numeric=True),
        Column("amount", "Amount", numeric=True),
        Column("acres", "Acres", numeric=True),
        Column("cost", "Cost", numeric=True),
        *RESULT,
    )
    keys = ("product_id", "product", "applications", "fl_oz", "lb", "oz_kind_unknown", "sq_ft", "cost", *RESULT_KEYS)
    note = "A mix counts for each product in it."
    return Table("by_product", "By product", columns, tuple(rows), keys, tuple(figures), note=note)


def _by_target(year: Year) -> Table:
    """Return control by weed and by what was put on it: the mix as a whole, as a weed cannot tell its parts."""
    groups: defaultdict[tuple[str, str], list[Treated]] = defaultdict(list)
    for one in year.treated:
        for target in one.targets:
            groups[target, one.name].append(one)
    rows, figures = [], []
    for (target, name), treated in sorted(groups.items(), key=lambda one: (one[0][0], -len(one[1]), one[0][1])):
        texts, bare = _result(year, treated, target)
        sites = str(len({one.site for one in treated}))
        rows.append((one_line(target), one_line(name), str(len(treated)), sites, *texts))
        figures.append((one_line(target), one_line(name), str(len(treated)), sites, *bare))
    columns = (
        Column("target", "Against"),
        Column("products", "With"),
        Column("treatments", "Treated", numeric=True),
        Column("sites", "Sites", numeric=True),
        *RESULT,
    )
    keys = ("target", "products", "treatments", "sites", *RESULT_KEYS)
    return Table("by_target", "By weed and product", columns, tuple(rows), keys, tuple(figures))


def _by_active(year: Year) -> Table:
    """Return the active totals as the annual summary has them."""
    assert year.totals is not None  # noqa: S101 - `gather_year` reads them first
    summary = build_summary(year.totals, year.year, year.business, year.today)
    found = next(section for section in summary.sections if section.key == "by_active")
    keys = tuple(column.key for column in found.columns)
    return Table("by_active", found.title, found.columns, found.rows, keys, found.rows, found.total, found.note)


def _to_mind(year: Year) -> Table:
    """Return the records that an owner wants to look at."""
    rows = []
    for one in year.visits:
        what = [
            word
            for word, is_so in (
                ("over a limit, signed for", one.is_deviation),
                ("late", one.is_late),
                ("incomplete", one.is_incomplete),
            )
            if is_so
        ]
        if what:
            rows.append((one.serial, one.day.isoformat(), one_line(one.person), ", ".join(what)))
    columns = (Column("record", "Record"), Column("day", "Day"), Column("person", "Person"), Column("what", "What"))
    keys = tuple(column.key for column in columns)
    return Table("to_mind", "Records to mind", columns, tuple(rows), keys, tuple(rows))
