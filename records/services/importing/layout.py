"""Layout files: what each column of somebody else's table means. Strict: what is not understood is refused by name."""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import tomli

from records.domain.states import STATES
from records.errors import LayoutError
from records.services.importing.cells import DATE_FORMS, TIME_FORMS
from records.units import UNITS, Kind

if TYPE_CHECKING:
    from collections.abc import Mapping

MAX_LAYOUT = 1_000_000
_WHEN = ("date", "time", "start_date", "start_time", "finish_date", "finish_time", "month")
_WHERE = ("customer", "site_id", "site_address", "city", "county", "state", "zip", "site_kind")
_WHO = ("applicator", "applicator_licence", "applicator_licence_type")
_WHAT = ("product", "product_id", "registration", "amount", "area", "applications", "lot", "remarks")
_HOW = ("amount_unit", "area_unit", "method", "target")
_ACTIVE = ("active", "active_content", "active_pounds")
_WEATHER = ("wind_speed", "wind_from", "temperature", "humidity")
FIELDS = frozenset((*_WHEN, *_WHERE, *_WHO, *_WHAT, *_HOW, *_ACTIVE, *_WEATHER))
CONSTANTS = frozenset((*_WHERE, *_WHO, *_HOW))
LOOKUPS = frozenset({"county", "site_kind", "method", "active", "applicator_licence_type"})
_KINDS = {
    "amount": frozenset({Kind.VOLUME, Kind.WEIGHT, Kind.OUNCE}),
    "area": frozenset({Kind.AREA}),
}
_SECTIONS = frozenset(
    ("layout", "name", "about", "source", "file", "rows", "fields", "constants", "units", "lookup", "not_use")
)
_FILE_KEYS = frozenset(["sheet", "delimiter", "encoding", "date", "time", "decimal", "blank", "ignore", "duplicates"])
_ROWS_KEYS = frozenset(["grain", "grain_column", "jobs", "months", "job", "application", "time_is", "timezone"])
_ENCODINGS = frozenset({"utf-8", "utf-16", "cp1252", "latin-1"})


@dataclass(frozen=True, slots=True)
class Source:
    """Where a field's text comes from: one or more columns, joined, with fixed texts around (a unit, say)."""

    columns: tuple[str, ...]
    join: str = " "
    prefix: str = ""
    suffix: str = ""


@dataclass(frozen=True, slots=True)
class Layout:
    """What the columns of a table mean.

    Attributes:
        decimal: the mark before decimals, a point or a comma; "" where semicolons part the cells and nothing is said,
            so that a comma in a number may be either.
        grain: `job` (a dated visit), `month` (a period's total) or "" where `grain_column` decides line by line.
        time_is: what the one `time` column tells: `start`, `finish` or "" (not known: kept as text).
        job: columns that are alike in all lines of one job; empty: every line is its own.
        application: columns that are alike in all lines of one application (one line for each active); empty: every
            line is its own application.
        ignore: columns that say nothing about the use (row numbers): not compared when looking for duplicates.
        keep_duplicates: the source has no column to tell two equal lines apart, so equal lines are separate uses.
        units: by field, the source's word (lower case) -> symbol, or "" for what is no unit of that kind.
        lookup: by field, the source's code -> the word to record.
    """

    name: str
    about: str
    source: str
    timezone: str
    fields: Mapping[str, Source]
    grain: str = "job"
    grain_column: str = ""
    jobs: frozenset[str] = frozenset()
    months: frozenset[str] = frozenset()
    time_is: str = ""
    job: tuple[str, ...] = ()
    application: tuple[str, ...] = ()
    sheet: str = ""
    delimiter: str = ","
    encoding: str = "utf-8"
    date_form: str = "YYYY-MM-DD"
    time_form: str = "h:mm AM/PM"
    decimal: str = "."
    blank: frozenset[str] = frozenset()
    ignore: frozenset[str] = frozenset()
    keep_duplicates: bool = False
    constants: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    lookup: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    not_use_column: str = ""
    not_use_values: frozenset[str] = frozenset()

    @property
    def zone(self) -> ZoneInfo:
        """Return the zone that times without an offset are in."""
        return ZoneInfo(self.timezone)

    def needed(self) -> list[str]:
        """Return every column the layout names, in no particular order, without repeats."""
        wanted = [column for source in self.fields.values() for column in source.columns]
        wanted += [*self.job, *self.application, self.grain_column, self.not_use_column]
        return [column for column in dict.fromkeys(wanted) if column]

    def has(self, name: str) -> bool:
        """Tell whether the source says anything about a field at all."""
        return name in self.fields or name in self.constants


class _Reader:
    """Reads one loaded document; every complaint names the file and the key."""

    def __init__(self, where: str, document: Mapping[str, Any]) -> None:
        self.where = where
        self.document = document

    def fail(self, key: str, what: str, hint: str = "") -> NoReturn:
        """Refuse the layout.

        Raises:
            LayoutError: always.
        """
        raise LayoutError(f"layout {self.where}: {key} {what}", hint)

    def table(self, data: Mapping[str, Any], key: str, allowed: frozenset[str] | None, at: str = "") -> dict[str, Any]:
        """Return a table of the document ({} when absent) with only allowed keys."""
        value = data.get(key, {})
        at = at or key
        if not isinstance(value, dict):
            self.fail(at, "is not a table")
        if allowed is not None:
            self.known(value, allowed, f"{at}.")
        return value

    def known(self, data: Mapping[str, Any], allowed: frozenset[str], prefix: str = "") -> None:
        """Refuse keys that mean nothing here."""
        for key in data:
            if key not in allowed:
                self.fail(f"{prefix}{key[:60]}", "is not known", f"Known here: {', '.join(sorted(allowed))}")

    def text(self, data: Mapping[str, Any], key: str, default: str | None = "", at: str = "") -> str:
        """Return a text; without a default it has to be there."""
        value = data.get(key, default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            self.fail(f"{at}{key}", "has to be a text")
        return value

    def texts(self, data: Mapping[str, Any], key: str, at: str = "") -> tuple[str, ...]:
        """Return a list of texts, () when absent."""
        value = data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
            self.fail(f"{at}{key}", "has to be a list of texts")
        return tuple(value)

    def choice(self, data: Mapping[str, Any], key: str, choices: frozenset[str], default: str, at: str = "") -> str:
        """Return one of a few words."""
        value = self.text(data, key, default, at)
        if value not in choices:
            shown = ", ".join(sorted(choice for choice in choices if choice))
            self.fail(f"{at}{key}", f"{value[:40]!r} is not known", f"Known: {shown}")
        return value

    def fields(self) -> dict[str, Source]:
        """Return which columns make which field."""
        found = {}
        for name, value in self.table(self.document, "fields", FIELDS).items():
            at = f"fields.{name}"
            if isinstance(value, str) and value.strip():
                found[name] = Source((value,))
            elif isinstance(value, dict):
                self.known(value, frozenset({"columns", "join", "prefix", "suffix"}), f"{at}.")
                columns = self.texts(value, "columns", f"{at}.")
                if not columns:
                    self.fail(f"{at}.columns", "has to name at least one column")
                found[name] = Source(
                    columns,
                    self.text(value, "join", " ", f"{at}."),
                    self.text(value, "prefix", "", f"{at}."),
                    self.text(value, "suffix", "", f"{at}."),
                )
            else:
                self.fail(at, "has to be a column name or a table with columns")
        return found

    def constants(self, fields: Mapping[str, Source]) -> dict[str, str]:
        """Return the fields that are the same in every line."""
        found = {}
        table = self.table(self.document, "constants", CONSTANTS)
        for name in table:
            if name in fields:
                self.fail(f"constants.{name}", "is given under fields too", "Keep one of the two")
            found[name] = self.text(table, name, None, "constants.")
        if "state" in found and found["state"] not in STATES:
            self.fail("constants.state", f"{found['state'][:10]!r} is not a two-letter state code")
        return found

    def units(self) -> dict[str, dict[str, str]]:
        """Return the source's words for units."""
        found: dict[str, dict[str, str]] = {}
        for kind, words in self.table(self.document, "units", frozenset(_KINDS)).items():
            at = f"units.{kind}"
            if not isinstance(words, dict):
                self.fail(at, "is not a table")
            found[kind] = {}
            for word, symbol in words.items():
                if symbol is False:
                    found[kind][word_key(word)] = ""
                elif isinstance(symbol, str) and symbol in UNITS and UNITS[symbol].kind in _KINDS[kind]:
                    found[kind][word_key(word)] = symbol
                else:
                    known = ", ".join(s for s, unit in UNITS.items() if unit.kind in _KINDS[kind])
                    self.fail(f"{at}.{word[:40]}", f"is no unit of {kind}", f"Known: {known}; or false for none")
        return found

    def lookups(self) -> dict[str, dict[str, str]]:
        """Return the source's codes and the words to record for them."""
        found: dict[str, dict[str, str]] = {}
        for name, codes in self.table(self.document, "lookup", LOOKUPS).items():
            if not isinstance(codes, dict) or not all(isinstance(word, str) for word in codes.values()):
                self.fail(f"lookup.{name}", "has to be a table of texts")
            found[name] = {word_key(code): word for code, word in codes.items()}
        return found

    def layout(self) -> Layout:
        """Return the layout.

        Raises:
            LayoutError: something in it is wrong; the first problem is named.
        """
        document = self.document
        self.known(document, _SECTIONS)
        if type(document.get("layout")) is not int or document["layout"] != 1:
            self.fail("layout", "has to be 1, the form of layout files that this version reads")
        file, rows = self.table(document, "file", _FILE_KEYS), self.table(document, "rows", _ROWS_KEYS)
        not_use = self.table(document, "not_use", frozenset({"column", "values"}))
        fields = self.fields()
        layout = Layout(
            name=self.text(document, "name", None),
            about=self.text(document, "about"),
            source=self.text(document, "source", None),
            timezone=self.text(rows, "timezone", None, "rows."),
            fields=fields,
            grain=self.choice(rows, "grain", frozenset({"job", "month", ""}), "", "rows."),
            grain_column=self.text(rows, "grain_column", "", "rows."),
            jobs=frozenset(map(word_key, self.texts(rows, "jobs", "rows."))),
            months=frozenset(map(word_key, self.texts(rows, "months", "rows."))),
            time_is=self.choice(rows, "time_is", frozenset({"start", "finish", ""}), "", "rows."),
            job=self.texts(rows, "job", "rows."),
            application=self.texts(rows, "application", "rows."),
            sheet=self.text(file, "sheet", "", "file."),
            delimiter=self.text(file, "delimiter", ",", "file."),
            encoding=self.choice(file, "encoding", _ENCODINGS, "utf-8", "file."),
            date_form=self.choice(file, "date", frozenset(DATE_FORMS), "YYYY-MM-DD", "file."),
            time_form=self.choice(file, "time", frozenset(TIME_FORMS), "h:mm AM/PM", "file."),
            decimal=self.choice(file, "decimal", frozenset({".", ","}), "", "file.")
            if "decimal" in file
            else ("" if file.get("delimiter") == ";" else "."),
            blank=frozenset(self.texts(file, "blank", "file.")),
            ignore=frozenset(self.texts(file, "ignore", "file.")),
            keep_duplicates=self.choice(file, "duplicates", frozenset({"apart", "keep"}), "apart", "file.") == "keep",
            constants=self.constants(fields),
            units=self.units(),
            lookup=self.lookups(),
            not_use_column=self.text(not_use, "column", "", "not_use."),
            not_use_values=frozenset(map(word_key, self.texts(not_use, "values", "not_use."))),
        )
        self.sense(layout)
        return layout

    def sense(self, layout: Layout) -> None:
        """Refuse a layout whose parts do not go together."""
        try:
            _ = layout.zone
        except (ZoneInfoNotFoundError, ValueError, OSError):
            self.fail("rows.timezone", f"{layout.timezone[:40]!r} is no time zone", "Such as America/Los_Angeles")
        if len(layout.delimiter) != 1 or not layout.delimiter.isascii() or layout.delimiter in '"\r\n':
            self.fail("file.delimiter", "has to be one character, such as a comma")
        if bool(layout.grain) == bool(layout.grain_column):
            self.fail("rows.grain", "or rows.grain_column has to be given, and only one of them")
        if layout.grain_column and not (layout.jobs or layout.months):
            self.fail("rows.grain_column", "needs rows.jobs or rows.months: which values mean which")
        if not {"product", "product_id", "registration"} & set(layout.fields):
            self.fail("fields", "name no product and no registration")
        if not {"date", "month", "start_date", "finish_date"} & set(layout.fields):
            self.fail("fields", "give no date, month, start_date or finish_date")
        if layout.grain == "job" and "month" in layout.fields:
            self.fail("fields.month", "cannot date a job", 'Use grain = "month", or map a date')
        for name, unit in (("amount", "amount_unit"), ("area", "area_unit")):
            if name in layout.fields and not (layout.has(unit) and layout.units.get(name)):
                self.fail(f"fields.{name}", f"needs {unit} (a field or a constant) and the words under units.{name}")


def word_key(text: str) -> str:
    """Return a word of the source as it is compared: lower case, single blanks."""
    return " ".join(text.split()).lower()


def read_layout(text: str, where: str) -> Layout:
    """Read a layout file.

    Args:
        text: TOML.
        where: file name for messages.

    Raises:
        LayoutError: it is wrong; the message names the file and the key.
    """
    try:
        document = tomli.loads(text)
    except (ValueError, RecursionError, MemoryError) as error:  # a number of a million digits is no TOML error
        raise LayoutError(f"layout {where} is not TOML: {str(error)[:160]}") from error
    return _Reader(where, document).layout()


def shipped() -> dict[str, Layout]:
    """Return the layouts that come with the tool, by name."""
    folder = files("records.services") / "layouts"
    found = {}
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".toml"):
            layout = read_layout(entry.read_text(encoding="utf-8"), entry.name)
            found[layout.name] = layout
    return found


def find_layout(name_or_path: str) -> Layout:
    """Return a shipped layout by its name, or the one in a file.

    Args:
        name_or_path: `county-single-job`, or a path that ends in `.toml`.

    Raises:
        LayoutError: there is none, or it is wrong.
    """
    if not name_or_path.lower().endswith(".toml"):
        layouts = shipped()
        if name_or_path in layouts:
            return layouts[name_or_path]
        raise LayoutError(
            f"no layout is named {name_or_path[:60]!r}",
            f"Shipped: {', '.join(layouts)}; or give a file that ends in .toml",
        )
    path = Path(name_or_path)
    try:
        if path.stat().st_size > MAX_LAYOUT:
            raise LayoutError(f"layout {path.name} is larger than {MAX_LAYOUT:,} bytes")
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise LayoutError(f"layout {path.name} cannot be read: {error.strerror or error}") from error
    except (UnicodeDecodeError, ValueError) as error:
        raise LayoutError(f"layout {path.name} is not UTF-8 text") from error
    return read_layout(text, path.name)
