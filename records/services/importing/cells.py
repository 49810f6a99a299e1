"""Reads one cell: text made clean, dates, times of day and plain numbers. What cannot be read is a `CellError`."""

from __future__ import annotations

import re
from datetime import date, time
from decimal import Decimal
from fractions import Fraction

from records.domain.quantities import to_decimal

MAX_CELL = 2_000
MAX_DIGITS = 24
LIMIT = Fraction(9_000_000_000)  # billionths of it still fit the 64-bit integers that sums are made of
SHEET_ERRORS = frozenset(("#N/A", "#REF!", "#VALUE!", "#DIV/0!", "#NAME?", "#NUM!", "#NULL!"))
_CONTROL = re.compile("[\x00-\x08\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]")
_MONTHS = ("JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC")
_ISO = re.compile(r"(?P<y>\d{4})-(?P<m>\d{2})-(?P<d>\d{2})(?:[T ]00:00(?::00)?)?", re.ASCII)
DATE_FORMS = {
    "YYYY-MM-DD": _ISO,
    "MM/DD/YYYY": re.compile(r"(?P<m>\d{1,2})/(?P<d>\d{1,2})/(?P<y>\d{4})", re.ASCII),
    "DD/MM/YYYY": re.compile(r"(?P<d>\d{1,2})/(?P<m>\d{1,2})/(?P<y>\d{4})", re.ASCII),
    "DD.MM.YYYY": re.compile(r"(?P<d>\d{1,2})\.(?P<m>\d{1,2})\.(?P<y>\d{4})", re.ASCII),
    "MM/DD/YY": re.compile(r"(?P<m>\d{1,2})/(?P<d>\d{1,2})/(?P<y>\d{2})", re.ASCII),
    "DD-MON-YY": re.compile(r"(?P<d>\d{1,2})-(?P<m>[A-Za-z]{3})-(?P<y>\d{2})", re.ASCII),
    "YYYYMMDD": re.compile(r"(?P<y>\d{4})(?P<m>\d{2})(?P<d>\d{2})", re.ASCII),
    "YYYY-MM": re.compile(r"(?P<y>\d{4})-(?P<m>\d{2})", re.ASCII),
}
_CLOCK = re.compile(r"(?P<h>\d{1,2}):(?P<m>\d{2})(?::00)?\s*(?P<half>[AaPp])?\.?(?:[Mm]\.?)?", re.ASCII)
TIME_FORMS = {
    "h:mm AM/PM": _CLOCK,
    "HH:MM": _CLOCK,
    "HHMM": re.compile(r"(?P<h>\d{2})(?P<m>\d{2})(?P<half>(?!))?", re.ASCII),
}
_NUMBER = re.compile(r"(?P<sign>[-+−]?)(?P<number>\d{1,3}(?:,\d{3})+(?:\.\d*)?|\d+(?:\.\d*)?|\.\d+)", re.ASCII)
_COMMA_NUMBER = re.compile(
    r"(?=.*\d)(?P<whole>[-+−]?(?:[1-9]\d{0,2}(?:\.\d{3})+|\d*))(?:,(?P<decimals>\d*))?", re.ASCII
)


class CellError(ValueError):
    """A cell that cannot be read; the message says what is in it."""


def shown(text: str, length: int = 40) -> str:
    """Return a text for a message: short, quoted, nothing that a terminal would act on."""
    cut = text if len(text) <= length else f"{text[: length - 3]}..."
    return repr("".join(c if c.isprintable() else "?" for c in cut))


def clean(text: str, column: str) -> str:
    """Return a cell's text with runs of blanks and line ends made one blank.

    Raises:
        CellError: too long, or it holds control characters.
    """
    if len(text) > MAX_CELL:
        raise CellError(f"{column}: the cell holds {len(text):,} characters, more than {MAX_CELL:,}")
    if _CONTROL.search(text):
        raise CellError(f"{column}: the cell holds control characters: {shown(text)}")
    text = " ".join(text.split())
    if text in SHEET_ERRORS:
        raise CellError(f"{column}: the cell holds a spreadsheet error: {text}")
    return text


def read_date(text: str, form: str) -> date:
    """Return the day a cell names; YYYY-MM-DD, which cannot be misread, is taken whatever the form.

    Two-digit years are 1950 to 2049, as the California pesticide use report reads them (DPR error list, code 4).

    Raises:
        CellError: no such day, or not in that form.
    """
    found = DATE_FORMS[form].fullmatch(text) or _ISO.fullmatch(text)
    if found is None:
        raise CellError(f"{shown(text)} is not a date in the form {form}")
    parts = found.groupdict()
    year, month = parts["y"], parts["m"].upper()
    if len(year) == 2:
        year = f"{'19' if int(year) >= 50 else '20'}{year}"
    if not month.isdigit():
        if month not in _MONTHS:
            raise CellError(f"{shown(text)} names no month")
        month = str(_MONTHS.index(month) + 1)
    try:
        day = date(int(year), int(month), int(parts.get("d") or "1"))
    except ValueError as error:
        raise CellError(f"{shown(text)} is no day of the calendar") from error
    if day.year < 1900:
        raise CellError(f"{shown(text)} is before 1900")
    return day


def read_time(text: str, form: str) -> time:
    """Return the time of day a cell names.

    Raises:
        CellError: no such time, or not in that form.
    """
    found = TIME_FORMS[form].fullmatch(text) or _CLOCK.fullmatch(text)
    if found is None:
        raise CellError(f"{shown(text)} is not a time in the form {form}")
    hour, minute, half = int(found["h"]), int(found["m"]), (found["half"] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            raise CellError(f"{shown(text)} is no time of day")
        hour = hour % 12 + (12 if half == "p" else 0)
    try:
        return time(hour, minute)
    except ValueError as error:
        raise CellError(f"{shown(text)} is no time of day") from error


def with_point(text: str, mark: str) -> str:
    """Return a number's text with a decimal point, whatever mark the source writes.

    Args:
        text: of the cell.
        mark: a point or a comma; "" where the layout does not say and a comma may be either.

    Raises:
        CellError: it is not written so, or its comma can be read in two ways.
    """
    if mark == "," and (found := _COMMA_NUMBER.fullmatch(text)):
        return f"{found['whole'].replace('.', '')}.{found['decimals'] or '0'}"
    if mark == ",":
        raise CellError(f"{shown(text)} is not a plain number with a decimal comma")
    if not mark and "," in text:
        # Taken wrongly, 1,250 would be out by a thousand.
        raise CellError(f"{shown(text)} can be read in two ways; say file.decimal in the layout: a point or a comma")
    return text


def read_number(text: str) -> Fraction:
    """Return a plain number of zero or more.

    Raises:
        CellError: negative, not a plain number, or too large to be summed exactly.
    """
    found = _NUMBER.fullmatch(text)
    if found is None:
        raise CellError(f"{shown(text)} is not a plain number")
    if len(text) > MAX_DIGITS:
        raise CellError(f"{shown(text)} has too many digits")
    value = Fraction(Decimal(found["number"].replace(",", "")))
    if found["sign"] in {"-", "−"} and value:
        raise CellError(f"{shown(text)} is negative")
    if value > LIMIT:
        raise CellError(f"{shown(text)} is larger than {int(LIMIT):,}")
    return value


def plain(value: Fraction) -> str:
    """Return a number as decimal text with at most nine decimals, the form of sealed amounts."""
    return format(to_decimal(value, 9), "f")
