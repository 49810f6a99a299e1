"""Turns sealed records into the lines of a periodic report: one pass, whole numbers, every application accounted for.

An application is either in a line, or not asked for (another state, another kind of product ...), or left out because
something is wrong with it. The three together have to be what the annual summary says (`reconcile.py`).
"""

from __future__ import annotations

import calendar
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from typing import TYPE_CHECKING

from records.services.periodic.checks import Trouble, five_digits, troubles_of
from records.services.periodic.layout import plain_name
from records.services.periodic.uses import Identity, Use, base_amount, uses_of
from records.units import UNITS, factor

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.services.periodic.layout import ReportLayout
    from records.services.ports import StoredRevision
    from records.units import Kind

Keys = tuple[str | None, ...]
Tally = dict[tuple[Identity, str | None], "Sums"]  # by product and unit


@dataclass(slots=True)
class Sums:
    """Applications of one product in one unit."""

    amount: int = 0  # 10^-9 of the unit
    applications: int = 0
    without_amount: int = 0
    area: int = 0  # 10^-9 sq ft
    without_area: int = 0

    def add(self, other: Sums, times: int = 1) -> None:
        """Add, or with -1 take away."""
        self.amount += times * other.amount
        self.applications += times * other.applications
        self.without_amount += times * other.without_amount
        self.area += times * other.area
        self.without_area += times * other.without_area


def sums_of(use: Use) -> Sums:
    """Return what one application line adds, counted as the annual summary counts it."""
    return Sums(
        use.amount or 0,
        use.applications,
        use.applications if use.amount is None else 0,
        use.area or 0,
        use.applications if use.area is None else 0,
    )


def add_to(tally: Tally, other: Tally, times: int = 1) -> None:
    """Add one tally to another, or with -1 take it away."""
    for key, sums in other.items():
        tally.setdefault(key, Sums()).add(sums, times)


@dataclass(slots=True)
class Line:
    """One line of a report."""

    keys: Keys
    part: str  # id of the person, or the county, whose file it goes into; "" where there is one file
    measure: Kind | None  # of its quantity, where the layout has one with its unit
    unit: str = ""  # of its quantity
    tally: Tally = field(default_factory=dict)
    serials: list[str] = field(default_factory=list)

    def add(self, use: Use) -> None:
        """Add an application."""
        self.tally.setdefault((use.product, use.unit), Sums()).add(sums_of(use))
        if not self.serials or self.serials[-1] != use.serial:
            self.serials.append(use.serial)

    def base(self, measure: Kind) -> Fraction:
        """Return its amounts of one kind in the base unit, exactly."""
        return sum(
            (
                base_amount(sums.amount, unit)
                for (_, unit), sums in self.tally.items()
                if unit is not None and unit in UNITS and UNITS[unit].kind is measure
            ),
            Fraction(0),
        )

    def has(self, measure: Kind) -> bool:
        """Tell whether it holds any amount of a kind."""
        return any(unit in UNITS and UNITS[unit].kind is measure for _, unit in self.tally if unit is not None)


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which days, and whose work."""

    since: date
    until: date
    person: str | None = None  # id of who reports it
    county: str | None = None


@dataclass(slots=True)
class Gathered:
    """What a pass over the records gave."""

    lines: list[Line]
    reported: Tally
    other: Tally  # not asked for
    left_out: Tally
    why_other: Counter[str]  # applications by reason
    troubles: list[Trouble]
    names: dict[str, str]  # of the persons who report, by id


class _Engine:
    """One pass."""

    def __init__(self, layout: ReportLayout, wanted: Wanted) -> None:
        self.layout = layout
        self.wanted = wanted
        self.lines: dict[tuple[Keys, str, Kind | None], Line] = {}
        self.got = Gathered([], {}, {}, {}, Counter(), [], {})
        self.counties: dict[str, str] = {}  # by plain name, as it was spelled first

    def take(self, use: Use) -> None:
        """Put one application where it belongs."""
        why = self.not_asked(use)
        if why:
            self.got.why_other[why] += use.applications
            self.put(self.got.other, use)
            return
        troubles = [*self.cut(use), *troubles_of(use, self.layout)]
        if troubles:
            self.got.troubles += troubles
            self.put(self.got.left_out, use)
            return
        self.put(self.got.reported, use)
        for values in self.values(use):
            self.line(use, values).add(use)

    @staticmethod
    def put(tally: Tally, use: Use) -> None:
        """Add an application to a tally."""
        tally.setdefault((use.product, use.unit), Sums()).add(sums_of(use))

    def not_asked(self, use: Use) -> str:
        """Return why a report of this kind does not ask for an application; "" where it does."""
        layout, wanted, state = self.layout, self.wanted, use.values["state"]
        first, last = month_span(use.period) if use.day is None else (use.day, use.day)
        if last < wanted.since or wanted.until < first:
            return "on other days"
        if layout.states and state is not None and state not in layout.states:
            return f"in {state}"
        if layout.kinds and use.kind not in layout.kinds:
            return f"of kind {use.kind}"
        if wanted.person is not None and use.filer.id not in {wanted.person, None}:
            return "reported by somebody else"
        if wanted.county is not None and use.values["county"] is not None:
            return "" if plain_name(use.values["county"]) == plain_name(wanted.county) else "in another county"
        return ""

    def cut(self, use: Use) -> list[Trouble]:
        """Return the trouble with a month's total of which only some days are asked for."""
        if use.day is not None or "part-month" not in self.layout.refuse:
            return []
        first, last = month_span(use.period)
        if self.wanted.since <= first and last <= self.wanted.until:
            return []
        what = f"it is the total of {use.period}, and only a part of that month is asked for"
        return [Trouble("part-month", use.serial, use.place, what, "ask for whole months")]

    def values(self, use: Use) -> list[dict[str, str | None]]:
        """Return the keys of the lines that an application stands in: one, or one for each target."""
        values = use.values
        if self.layout.pack:
            zip_code = five_digits(values["zip"])
            number = values["registration"] or ("exempt" if use.exemption else None)
            values = values | {"zip": zip_code, "county": self.county(values["county"]), "registration": number}
        if "target" in self.layout.keys:
            return [values | {"target": target} for target in use.targets or (None,)]
        return [values]

    def county(self, text: str | None) -> str | None:
        """Return a county as the agency spells it, or as it was spelled first."""
        known = self.layout.list_of("county")
        if text is None or known is not None:
            return known.name(text) if known is not None else None
        plain = plain_name(text)
        if plain not in self.counties:
            words = text.split()
            self.counties[plain] = " ".join(
                words[:-1] if len(words) > 1 and words[-1].casefold() == "county" else words
            )
        return self.counties[plain]

    def line(self, use: Use, values: dict[str, str | None]) -> Line:
        """Return the line with these keys."""
        part = ""
        if self.layout.split == "person":
            part = use.filer.id or ""
            self.got.names[part] = use.filer.name or part
        elif self.layout.split == "county":
            part = values["county"] or ""
        keys = tuple(values[key] for key in self.layout.keys)
        measure = use.measure if self.layout.has_unit else None
        found = self.lines.get((keys, part, measure))
        if found is None:
            found = self.lines[keys, part, measure] = Line(keys, part, measure)
        return found

    def end(self) -> Gathered:
        """Return the lines in the order of their keys."""
        self.got.lines = list(self.lines.values())
        if "both-kinds" in self.layout.refuse:
            self.part_kinds()
        if self.layout.has_unit:
            self.choose_units()
        self.got.lines.sort(key=lambda line: (line.part, *_order(line.keys), str(line.measure)))
        return self.got

    def choose_units(self) -> None:
        """Give all lines of one product one unit: the largest in which none of them is less than one."""
        places = [self.layout.keys.index(key) for key in ("registration", "product") if key in self.layout.keys]
        groups: defaultdict[tuple[Kind, Keys], list[Line]] = defaultdict(list)
        for line in self.got.lines:
            if line.measure is not None and line.measure in self.layout.units:
                groups[line.measure, tuple(line.keys[place] for place in places)].append(line)
        for (measure, _), lines in groups.items():
            least = min(line.base(measure) for line in lines)
            units = self.layout.units[measure]
            unit = next((unit for unit in units if least >= factor(unit)), units[-1])
            for line in lines:
                line.unit = unit

    def part_kinds(self) -> None:
        """Take out a product's lines in the kind of unit that fewer of its applications have."""
        kinds: defaultdict[str, dict[Kind | None, list[Line]]] = defaultdict(dict)
        number, product = self.layout.keys.index("registration"), self.layout.keys.index("product")
        for line in self.got.lines:
            name = line.keys[number] if line.keys[number] not in {None, "exempt"} else line.keys[product]
            kinds[name or ""].setdefault(line.measure, []).append(line)
        gone: set[int] = set()
        for name, found in kinds.items():
            if len(found) > 1:
                counted = {kind: sum(_applications(line) for line in lines) for kind, lines in found.items()}
                rare = min(counted, key=lambda kind: (counted[kind], str(kind)))
                most = next(str(kind) for kind in counted if kind is not rare)
                for line in found[rare]:
                    gone.add(id(line))
                    self.take_out(line, f"{name} is measured by {rare} here and by {most} elsewhere in this report")
        self.got.lines = [line for line in self.got.lines if id(line) not in gone]

    def take_out(self, line: Line, what: str) -> None:
        """Move a line's applications to what is left out."""
        add_to(self.got.reported, line.tally, -1)
        add_to(self.got.left_out, line.tally)
        do = "put all amounts of one product on the records in one kind of unit"
        self.got.troubles += [Trouble("both-kinds", serial, "", what, do) for serial in line.serials]


def _applications(line: Line) -> int:
    return sum(sums.applications for sums in line.tally.values())


def _order(keys: Keys) -> tuple[tuple[str, str], ...]:
    return tuple(((key or "").casefold(), key or "") for key in keys)


def month_span(period: str) -> tuple[date, date]:
    """Return the first and last day of a month such as `2026-05`."""
    year, month = int(period[:4]), int(period[5:7])
    return date(year, month, 1), date(year, month, calendar.monthrange(year, month)[1])


def gather(revisions: Iterable[StoredRevision], layout: ReportLayout, wanted: Wanted) -> Gathered:
    """Turn records into lines.

    Args:
        revisions: the latest of each record of all months that the days asked for touch; voided ones are passed over.
        layout: what a line is, what is asked for and what keeps a line out.
        wanted: which days, and whose work.
    """
    engine = _Engine(layout, wanted)
    for revision in revisions:
        if revision.action != "voided":
            for use in uses_of(revision):
                engine.take(use)
    return engine.end()
