"""What a periodic report holds: its lines, columns, filters, units and checks, read from TOML or made of a few keys.

Strict: what is not understood is refused with file and key. Period, due day and whether nothing is reported too are
the rule pack's to say.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import tomli

from records.domain.loaded import PROSE, Problem, Table, shown, suggestion
from records.domain.states import STATES
from records.errors import LayoutError, UsageError
from records.services.periodic.names import FOLDER, layout_ids
from records.services.periodic.words import CHECKS
from records.units import UNITS, Kind

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

KINDS = ("pesticide", "minimum-risk", "adjuvant", "fertilizer")
# What lines may be told apart by, and what may stand in a column.
KEYS = (
    "date",
    "month",
    "state",
    "county",
    "zip",
    "city",
    "address",
    "site_kind",
    "product",
    "registration",
    "kind",
    "form",
    "method",
    "target",
    "applicator",
    "filer_name",
    "filer_licence",
)
MEASURES = (
    "quantity",
    "unit",
    "gallons",
    "pounds",
    "ounces",
    "applications",
    "area_sq_ft",
    "area_acres",
    "without_amount",
    "without_area",
)
NUMBERS = frozenset(MEASURES) - {"unit"}
FIRM = ("business", "business_address", "business_licence")  # the same in every line
_SPLITS = ("person", "county")
_BY = {
    "county": ("county",),
    "zip": ("zip",),
    "city": ("city",),
    "state": ("state",),
    "address": ("address",),
    "product": ("product", "registration"),
    "month": ("month",),
    "date": ("date",),
    "person": ("applicator",),
    "site_kind": ("site_kind",),
    "kind": ("kind",),
    "form": ("form",),
    "method": ("method",),
    "target": ("target",),
}
_HEADINGS = {
    "county": "County",
    "zip": "ZIP",
    "city": "City",
    "state": "State",
    "address": "Street address",
    "product": "Product",
    "registration": "Registration number",
    "month": "Month",
    "date": "Date",
    "applicator": "Applicator",
    "site_kind": "Kind of site",
    "kind": "Kind of product",
    "form": "Form",
    "method": "Method",
    "target": "Target",
}
_SUMS = (
    ("applications", "Applications", "Appl."),
    ("gallons", "Liquid, gal", "Liquid, gal"),
    ("pounds", "Dry, lb", "Dry, lb"),
    ("ounces", "oz (kind unknown)", "oz (?)"),
    ("without_amount", "Without amount", "No amt"),
    ("area_sq_ft", "Area, sq ft", "Area, sq ft"),
    ("area_acres", "Area, acres", "Acres"),
    ("without_area", "Without area", "No area"),
)


@dataclass(frozen=True, slots=True)
class Column:
    """One column: where its text comes from and what stands above it."""

    name: str  # in JSON
    source: str  # one of KEYS or MEASURES
    heading: str
    screen: str  # heading on a screen, where room is short; "" leaves the column out there
    list: str = ""  # name of a look-up list that its text goes through


@dataclass(frozen=True, slots=True)
class Lookup:
    """Codes of an agency for what records spell out, with where they were read."""

    source: str
    url: str
    seen: date | None
    values: Mapping[str, str]
    plain: Mapping[str, str] = field(repr=False)  # by plain name, what stands in `values`

    def name(self, text: str | None) -> str | None:
        """Return the agency's spelling of a name; None where it is not on the list."""
        return None if text is None else self.plain.get(plain_name(text))

    def code(self, text: str | None) -> str:
        """Return the code for a name; "" where it is not on the list."""
        name = self.name(text)
        return "" if name is None else self.values[name]


@dataclass(frozen=True, slots=True)
class ReportLayout:
    """What a periodic report holds."""

    id: str
    title: str
    about: str
    keys: tuple[str, ...]  # what one line is
    columns: tuple[Column, ...]
    pack: str = ""  # rule pack that says period, due day and nil; "": nobody asks for it
    split: str = ""  # a file of its own for each "person" or "county"
    states: tuple[str, ...] = ()  # of the treated place; empty: any
    kinds: tuple[str, ...] = ()  # of product; empty: any
    units: Mapping[Kind, tuple[str, ...]] = field(default_factory=dict)  # by kind of amount, the largest first
    refuse: frozenset[str] = frozenset()  # checks that keep the report from being written
    nil_column: str = ""
    nil_words: str = ""
    lists: Mapping[str, Lookup] = field(default_factory=dict)

    @property
    def has_unit(self) -> bool:
        """Tell whether a line holds one quantity with its unit, and not a column for each kind."""
        return any(column.source == "unit" for column in self.columns)

    @property
    def has_total(self) -> bool:
        """Tell whether its lines add up: one against two targets counts under both."""
        return "target" not in self.keys

    def list_of(self, source: str) -> Lookup | None:
        """Return the list that a key's texts have to be on, where there is one."""
        return next(
            (self.lists[column.list] for column in self.columns if column.source == source and column.list), None
        )


def plain_name(text: str) -> str:
    """Return a county's name as it is compared: no case, no `county`, `St.` and `Saint` alike."""
    words = text.casefold().replace(".", " ").split()
    if len(words) > 1 and words[-1] == "county":
        words.pop()
    return " ".join("st" if word == "saint" else word for word in words)


def _lookup(entry: Table) -> Lookup:
    values: dict[str, str] = {}
    holder = entry.table("values")
    if holder is None:
        entry.missing("values", 'give a table such as Albany = "01"')
    else:
        values = {key: holder.text(key, required=True) for key in holder.keys()}  # noqa: SIM118 - a table of ours
    made = Lookup(
        source=entry.text("source", required=True),
        url=entry.text("url", required=True),
        seen=entry.day("seen", required=True),
        values=values,
        plain={plain_name(key): key for key in values},
    )
    entry.finish()
    return made


def _known(table: Table, key: str, known: Iterable[str]) -> tuple[str, ...]:
    """Return a list of words that all have to be known."""
    words = list(known)
    found = table.texts(key)
    for text in found:
        if text not in words:
            table.problem(
                key, f"{shown(text)} is not known; {suggestion(text, words) or 'one of: ' + ', '.join(words)}"
            )
    return found


def _columns(table: Table, lists: Mapping[str, Lookup]) -> tuple[Column, ...]:
    found: list[Column] = []
    for entry in table.tables("columns", least='name = "zip", source = "zip", heading = "ZIP"'):
        heading = entry.text("heading", required=True)
        screen = heading if entry.raw("screen") is None else ("" if entry.raw("screen") == "" else entry.text("screen"))
        column = Column(
            name=entry.text("name", required=True, cap=40),
            source=entry.choice("source", (*KEYS, *MEASURES, *FIRM), required=True),
            heading=heading,
            screen=screen,
            list=entry.text("list"),
        )
        if column.list and column.list not in lists:
            entry.problem(
                "list", f"{shown(column.list)} is no list of this layout; known: {', '.join(lists) or 'none'}"
            )
        entry.finish()
        if column.name in {other.name for other in found}:
            entry.problem("name", f"{column.name} is given twice; keep one")
        found.append(column)
    return tuple(found)


def _units(table: Table) -> dict[Kind, tuple[str, ...]]:
    holder = table.table("units")
    if holder is None:
        table.missing("units", 'say volume = ["gal", "fl oz"] and weight = ["lb", "oz wt"]')
        return {}
    found = {}
    for kind in (Kind.VOLUME, Kind.WEIGHT):
        known = [symbol for symbol, unit in UNITS.items() if unit.kind is kind]
        found[kind] = _known(holder, kind.value, known)
        if not found[kind]:
            holder.missing(kind.value, f"one or more of: {', '.join(known)}")
    holder.finish()
    return found


def _layout(table: Table) -> ReportLayout:
    number = table.raw("layout")
    if type(number) is not int or number != 1:
        table.problem("layout", "has to be 1, the form of layout files that this version reads")
    lists: dict[str, Lookup] = {}
    holder = table.table("lists")
    for key in [] if holder is None else holder.keys():
        entry = holder.table(key) if holder is not None else None
        if entry is not None:
            lists[key] = _lookup(entry)
    columns = _columns(table, lists)
    chosen, checks, nil = table.table("filter"), table.table("checks"), table.table("nil")
    layout = ReportLayout(
        id=table.identifier(),
        title=table.text("title", required=True),
        about=table.text("about", required=True, cap=PROSE),
        pack=table.text("pack", required=True),
        keys=_known(table, "keys", KEYS),
        columns=columns,
        split=table.choice("split", _SPLITS),
        states=() if chosen is None else _known(chosen, "states", STATES),
        kinds=() if chosen is None else _known(chosen, "kinds", KINDS),
        units=_units(table),
        refuse=frozenset() if checks is None else frozenset(_known(checks, "refuse", CHECKS)),
        nil_column="" if nil is None else nil.text("column", required=True),
        nil_words="" if nil is None else nil.text("words", required=True),
        lists=lists,
    )
    if nil is None:
        table.missing("nil", "say which column tells that nothing was applied, and in which words")
    elif layout.nil_column and layout.nil_column not in {column.name for column in columns}:
        nil.problem("column", f"{shown(layout.nil_column)} is no column of this layout")
    for part in (chosen, checks, nil):
        if part is not None:
            part.finish()
    table.finish()
    _sense(table, layout)
    return layout


def _sense(table: Table, layout: ReportLayout) -> None:
    """Note what does not go together."""
    if not layout.keys:
        table.missing("keys", "say what one line is, such as county, month and product")
    for column in layout.columns:
        if column.source in KEYS and column.source not in layout.keys:
            table.problem("columns", f"shows {column.source}, which is not among the keys; lines would hold several")
    if "both-kinds" in layout.refuse and not layout.has_unit:
        table.problem("checks.refuse", "both-kinds needs a column with the unit")
    if layout.split == "person" and "filer_licence" not in layout.keys:
        table.problem("split", "needs filer_licence among the keys")
    if layout.split == "county" and "county" not in layout.keys:
        table.problem("split", "needs county among the keys")


def read_layout(text: str, where: str) -> ReportLayout:
    """Read a layout file.

    Args:
        text: TOML.
        where: file name for messages.

    Raises:
        LayoutError: it is wrong; the message names the file and every key.
    """
    try:
        content = tomli.loads(text)
    except (tomli.TOMLDecodeError, RecursionError) as error:
        raise LayoutError(f"report layout {where} is not TOML: {str(error)[:160]}") from error
    problems: list[Problem] = []
    layout = _layout(Table(content, "", problems))
    if problems:
        told = "; ".join(": ".join(filter(None, (problem.where, problem.what))) for problem in problems)
        raise LayoutError(f"report layout {where}: {told}", "Correct the file")
    return layout


def find_layout(name: str) -> ReportLayout:
    """Return a layout that comes with the tool.

    Raises:
        LayoutError: there is none of that name, or its file is wrong.
    """
    known = layout_ids()
    if name not in known:
        raise LayoutError(f"no report layout is named {name[:60]!r}", f"There are: {', '.join(known)}")
    layout = read_layout((FOLDER / f"{name}.toml").read_text(encoding="utf-8"), f"{name}.toml")
    if layout.id != name:
        raise LayoutError(
            f"report layout {name}.toml holds the layout {layout.id}", "Rename the file or correct the id"
        )
    return layout


def layout_by(words: str, *, states: tuple[str, ...] = (), kinds: tuple[str, ...] = ()) -> ReportLayout:
    """Return the layout of sums by a few keys.

    Args:
        words: keys, such as `county,product`.
        states: two-letter codes; empty: any.
        kinds: of product; empty: any.

    Raises:
        UsageError: a word is not known.
    """
    names = [word.strip().lower() for word in words.split(",") if word.strip()]
    unknown = next((name for name in names if name not in _BY), None)
    if unknown is not None or not names:
        close = suggestion(unknown, _BY).capitalize() if unknown else ""
        what = f"{shown(unknown)} is no key of records" if unknown else "there is no key to sum by"
        raise UsageError(what, f"{close + ' ' if close else ''}Known: {', '.join(_BY)}")
    wrong = next((state for state in states if state not in STATES), None)
    if wrong is not None:
        raise UsageError(f"{shown(wrong)} is no state", "Write its two letters, such as MN")
    odd = next((kind for kind in kinds if kind not in KINDS), None)
    if odd is not None:
        raise UsageError(f"{shown(odd)} is no kind of product", f"Known: {', '.join(KINDS)}")
    keys = tuple(dict.fromkeys(key for name in names for key in _BY[name]))
    columns = [
        Column(key, key, _HEADINGS[key], "Reg. no." if key == "registration" else _HEADINGS[key]) for key in keys
    ]
    columns += [Column(source, source, heading, screen) for source, heading, screen in _SUMS]
    told = ", ".join(name.replace("_", " ") for name in dict.fromkeys(names))
    return ReportLayout(
        id="by",
        title=f"Applications by {told}",
        about=f"one line for each {told}",
        keys=keys,
        columns=tuple(columns),
        states=states,
        kinds=kinds,
        refuse=frozenset({"part-month"}),
    )
