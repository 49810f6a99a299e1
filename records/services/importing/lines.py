"""Reads one row by a layout: a `Line` of settled facts with its gaps, or a `CellError` that says why it is refused."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from hashlib import sha256
from typing import TYPE_CHECKING

from records.domain.numerals import QuantityError
from records.domain.quantities import parse_speed, parse_temperature
from records.domain.registration import RegistrationError, read_registration
from records.domain.weather import parse_direction
from records.services.importing.cells import (
    LIMIT,
    CellError,
    clean,
    plain,
    read_date,
    read_number,
    read_time,
    shown,
    with_point,
)
from records.services.importing.layout import Layout, word_key
from records.services.sealing import canonical
from records.units import convert

if TYPE_CHECKING:
    from collections.abc import Mapping
    from fractions import Fraction

# What a record should tell, and the fields that tell it; the first name is the one in findings.
WANTED: Mapping[str, tuple[str, ...]] = {
    "started": ("start_time", "time:start"),
    "finished": ("finish_time", "time:finish"),
    "site": ("site_id", "site_address"),
    "applicator": ("applicator",),
    "applicator.licence": ("applicator_licence",),
    "weather.wind_speed": ("wind_speed",),
    "weather.wind_from": ("wind_from",),
    "weather.temperature": ("temperature",),
    "targets": ("target",),
    "name": ("product",),
    "registration": ("registration",),
    "amount": ("amount",),
    "area": ("area",),
}
NUMBERS = frozenset(("amount", "area", "active_pounds"))
NOT_OF_A_MONTH = frozenset(("started", "finished", "weather.wind_speed", "weather.wind_from", "weather.temperature"))


@dataclass(frozen=True, slots=True)
class Moment:
    """A local time with its instant, as sealed."""

    local: str
    utc: str

    def document(self) -> dict[str, str]:
        """Return the two texts of the sealed body."""
        return {"local": self.local, "utc": self.utc}


@dataclass(frozen=True, slots=True)
class When:
    """What a line tells about its time: a day with what is known of start and end, or only a month."""

    period: str
    day: date | None = None
    started: Moment | None = None
    finished: Moment | None = None
    time: str = ""  # one time of unknown meaning, as typed


@dataclass(frozen=True, slots=True)
class Line:
    """One row, read.

    Attributes:
        values: cleaned text of every field that has one.
        amount: `<decimal> <unit>`, undiluted product.
        area: decimal sq ft.
        extent: treated amount that is no area, as typed.
        registration: normalised, or as typed where it cannot be read.
        federal: the federal number in it, where it holds one.
        format_note: why the registration number cannot be read.
        gaps: what is wanted, has a column, and is not there; with the words for it.
    """

    when: When
    values: Mapping[str, str]
    amount: str | None
    area: str | None
    extent: str | None
    registration: str
    federal: str
    format_note: str
    gaps: Mapping[str, str]

    @property
    def is_month(self) -> bool:
        """Tell whether it is a period's total."""
        return self.when.day is None


def lacking(layout: Layout) -> list[str]:
    """Return what a record should tell and the source has no column for."""
    given = {*layout.fields, *layout.constants}
    if layout.time_is:
        given.add(f"time:{layout.time_is}")
    is_month = layout.grain == "month"
    return [
        name for name, fields in WANTED.items() if not given & set(fields) and not (is_month and name in NOT_OF_A_MONTH)
    ]


class LineReader:
    """Reads the rows of one table."""

    def __init__(self, layout: Layout, now: datetime) -> None:
        """Read by a layout; days after `now` in its zone are refused."""
        self._layout = layout
        self._zone = layout.zone
        self._today = now.astimezone(self._zone).date()
        self._same = {name: layout.constants.get(name, "") for name in ("county", "state")}

    @property
    def keeps_duplicates(self) -> bool:
        """Tell whether equal lines of this source are separate uses."""
        return self._layout.keep_duplicates

    def cells(self, columns: tuple[str, ...], cells: tuple[str, ...]) -> dict[str, str]:
        """Return the cells that hold something, by column, cleaned.

        Raises:
            CellError: one is too long or holds control characters.
        """
        named = ((column, clean(cell, column)) for column, cell in zip(columns, cells, strict=True))
        return {column: cell for column, cell in named if cell and cell not in self._layout.blank}

    def digest(self, cells: Mapping[str, str], occurrence: int = 0) -> str:
        """Return what two equal lines share, whatever file, sheet or layout they come from."""
        ignored = self._layout.ignore
        seen: dict[str, object] = {column: cell for column, cell in cells.items() if column not in ignored}
        # Row numbers and order of columns say nothing; county and state keep equal lines of two counties apart.
        return sha256(canonical({"cells": seen, "same": self._same, "occurrence": occurrence})).hexdigest()[:32]

    def is_no_use(self, cells: Mapping[str, str]) -> bool:
        """Tell whether a row reports that nothing was used."""
        column = self._layout.not_use_column
        return bool(column) and word_key(cells.get(column, "")) in self._layout.not_use_values

    def no_use_period(self, cells: Mapping[str, str]) -> str:
        """Return the month that a report of no use is about.

        Raises:
            CellError: no possible month.
        """
        return self._when(self._values(cells), is_month=True).period

    def job_key(self, cells: Mapping[str, str], line: Line, digest: str) -> str:
        """Return what the lines of one job share."""
        if not self._layout.job:
            return digest
        when = line.when
        moments = [when.period, str(when.day), str(when.started), str(when.finished), when.time]
        return canonical([[cells.get(column, "") for column in self._layout.job], moments]).decode()

    def read(self, cells: Mapping[str, str]) -> Line:
        """Read a row.

        Raises:
            CellError: why it is refused.
        """
        values = self._values(cells)
        if not values.get("product") and not values.get("product_id") and not values.get("registration"):
            raise CellError("a use without product and registration number: there is nothing to record")
        for name in NUMBERS & values.keys():
            try:
                values[name] = with_point(values[name], self._layout.decimal)
            except CellError as error:
                raise CellError(f"the {name.replace('_', ' ')} {error}") from error
        gaps: dict[str, str] = {}
        is_month = self._is_month(cells)
        when = self._when(values, is_month=is_month, gaps=gaps)
        amount = self._amount(values, gaps)
        area, extent = self._area(values, gaps)
        self._weather(values, gaps)
        registration, federal, note = _registration(values.get("registration", ""))
        self._note_gaps(values, gaps, is_month=is_month)
        if note:
            gaps["registration-format"] = note
        return Line(when, values, amount, area, extent, registration, federal, note, gaps)

    def _values(self, cells: Mapping[str, str]) -> dict[str, str]:
        """Return each field's text by the layout's columns, constants and look-up tables."""
        layout = self._layout
        values = dict(layout.constants)
        for name, source in layout.fields.items():
            text = source.join.join(part for part in (cells.get(column, "") for column in source.columns) if part)
            if text:
                known = layout.lookup.get(name, {}).get(word_key(text))
                values[name] = known if known is not None else f"{source.prefix}{text}{source.suffix}"
        return values

    def _is_month(self, cells: Mapping[str, str]) -> bool:
        layout = self._layout
        if layout.grain:
            return layout.grain == "month"
        word = word_key(cells.get(layout.grain_column, ""))
        if word not in layout.jobs | layout.months:
            raise CellError(f"{layout.grain_column}: {shown(word)} says neither a job nor a month's total")
        return word in layout.months

    def _when(self, values: Mapping[str, str], *, is_month: bool, gaps: dict[str, str] | None = None) -> When:
        gaps = {} if gaps is None else gaps
        if is_month:
            day = self._day(values, "month") or self._day(values, "date")
            if day is None:
                raise CellError("no month")
            if (day.year, day.month) > (self._today.year, self._today.month):
                raise CellError(f"the month {day:%Y-%m} is in the future")
            return When(f"{day:%Y-%m}")
        layout = self._layout
        day = self._day(values, "date")
        start_day, finish_day = self._day(values, "start_date") or day, self._day(values, "finish_date") or day
        start, finish = self._time(values, "start_time"), self._time(values, "finish_time")
        loose = self._time(values, "time")
        start = loose if layout.time_is == "start" else start
        finish = loose if layout.time_is == "finish" else finish
        if start_day is None and finish_day is None:
            raise CellError("no date")
        if max(found for found in (start_day, finish_day) if found) > self._today:
            raise CellError(f"the day {finish_day or start_day} is in the future")
        started = self._moment(start_day, start, "started", gaps)
        finished = self._moment(finish_day, finish, "finished", gaps)
        is_backward = start_day is not None and finish_day is not None and start_day > finish_day
        if is_backward or (started and finished and started.utc > finished.utc):
            raise CellError(f"it ends ({finish_day} {finish or ''}) before it starts ({start_day} {start or ''})")
        the_day = start_day or finish_day
        assert the_day is not None  # noqa: S101 - one of them was required above
        unsaid = values.get("time", "") if not layout.time_is else ""
        return When(f"{the_day:%Y-%m}", the_day, started, finished, unsaid)

    def _day(self, values: Mapping[str, str], name: str) -> date | None:
        text = values.get(name, "")
        return read_date(text, self._layout.date_form) if text else None

    def _time(self, values: Mapping[str, str], name: str) -> time | None:
        text = values.get(name, "")
        return read_time(text, self._layout.time_form) if text else None

    def _moment(self, day: date | None, at: time | None, name: str, gaps: dict[str, str]) -> Moment | None:
        if day is None or at is None:
            if at is not None:
                gaps[name] = f"a time, {at:%H:%M}, without a day"
            return None
        local = datetime.combine(day, at, self._zone)
        if local.utcoffset() != local.replace(fold=1).utcoffset():
            gaps[name] = f"{at:%H:%M} is twice or never on {day}: the clocks were changed"
            return None
        instant = local.astimezone(UTC)
        return Moment(local.isoformat(timespec="minutes"), f"{instant:%Y-%m-%dT%H:%M:%SZ}")

    def _unit(self, values: Mapping[str, str], name: str) -> str | None:
        """Return the symbol, "" for a word that is no such unit, None where there is no word."""
        word = values.get(f"{name}_unit", "")
        if not word:
            return None
        symbol = self._layout.units.get(name, {}).get(word_key(word))
        if symbol is None:
            raise CellError(f"the {name} is in {shown(word)}, a unit that the layout does not know")
        return symbol

    def _amount(self, values: Mapping[str, str], gaps: dict[str, str]) -> str | None:
        text, symbol = values.get("amount", ""), self._unit(values, "amount")
        if not text:
            return None
        value = _number(text, "amount")
        if not symbol:
            gaps["amount"] = f"{text} {values.get('amount_unit', 'without a unit')}"
            return None
        if not value:
            gaps["amount"] = f"the source gives {text} {symbol}"
        return f"{plain(value)} {symbol}"

    def _area(self, values: Mapping[str, str], gaps: dict[str, str]) -> tuple[str | None, str | None]:
        text, symbol = values.get("area", ""), self._unit(values, "area")
        if not text:
            return None, None
        value = _number(text, "area")
        if not symbol or not value:
            given = f"{text} {values.get('area_unit', 'without a unit')}"
            gaps["area"] = f"the source gives {given}, which is no area"
            return None, given
        feet = convert(value, symbol, "sq ft")
        if feet > LIMIT:
            raise CellError(f"area: {text} {symbol} is larger than {int(LIMIT):,} sq ft")
        return plain(feet), None

    def _weather(self, values: dict[str, str], gaps: dict[str, str]) -> None:
        """Keep weather only where it can be read; what cannot is a gap and stays in the source line."""
        for name, parse in (
            ("wind_speed", parse_speed),
            ("wind_from", parse_direction),
            ("temperature", parse_temperature),
        ):
            if values.get(name):
                try:
                    values[name] = str(parse(values[name]))
                except QuantityError as error:
                    del values[name]
                    gaps[f"weather.{name}"] = str(error)

    def _note_gaps(self, values: Mapping[str, str], gaps: dict[str, str], *, is_month: bool) -> None:
        layout = self._layout
        for name, fields in WANTED.items():
            mapped = [field for field in fields if layout.has(field) or field == f"time:{layout.time_is}"]
            if not mapped or (is_month and name in NOT_OF_A_MONTH):
                continue
            if not any(values.get(field.partition(":")[0]) for field in mapped):
                gaps.setdefault(name, "the cell is empty")


def _number(text: str, what: str) -> Fraction:
    try:
        return read_number(text)
    except CellError as error:
        raise CellError(f"the {what} {error}") from error


def _registration(text: str) -> tuple[str, str, str]:
    """Return a registration number normalised, the federal number in it, and why it cannot be read."""
    if not text:
        return "", "", ""
    try:
        number = read_registration(text)
    except RegistrationError as error:
        return text, "", str(error)
    return number.text, number.federal, ""
