"""Reads the parts of an entry document: every problem becomes a finding, none stops the reading."""

from __future__ import annotations

import difflib
import re
import unicodedata
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, TypeVar

from records.domain.findings import Code, Finding, Severity
from records.domain.numerals import QuantityError
from records.domain.quantities import UnitKindError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from zoneinfo import ZoneInfo

T = TypeVar("T")

MAX_NAME = 200
MAX_REMARKS = 5_000
MAX_LIST = 60
MAX_TOLD = 20  # unknown names that are told one by one
FIRST_YEAR, LAST_YEAR = 1970, 2200  # other years are slips, and some cannot be reckoned with

_MOMENT = re.compile(
    r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(:\d\d(?:\.\d{1,6})?)?\s*(Z|[+-]\d\d:?\d\d)?", re.ASCII | re.IGNORECASE
)


class Reader:
    """Collects findings while a document is read."""

    def __init__(self) -> None:
        """Begin with nothing found."""
        self.findings: list[Finding] = []
        self.unresolved: list[str] = []  # places that were typed, and cannot be looked up without the site

    def add(self, code: Code, severity: Severity, at: str, message: str, **parts: str) -> None:
        """Note a finding."""
        self.findings.append(Finding(code, severity, at, message, **parts))

    def stop(self, code: Code, at: str, message: str, found: str = "") -> None:
        """Note a finding that stops."""
        self.add(code, Severity.STOP, at, message, found=found)

    def not_understood(self, at: str, message: str, found: object = "") -> None:
        """Note a part that cannot be read."""
        self.stop(Code.NOT_UNDERSTOOD, at, message, found=shown(found))

    def group(self, value: object, at: str, keys: Iterable[str], what: str) -> dict[str, Any]:
        """Return a JSON object, its unknown keys noted; an empty one where there is none."""
        if value is None:
            return {}
        if not isinstance(value, dict):
            self.not_understood(at, f"{what} has to be a group of named values", value)
            return {}
        allowed = set(keys)
        unknown = [key for key in value if key not in allowed]
        for key in unknown[:MAX_TOLD]:
            near = difflib.get_close_matches(key[:MAX_NAME], allowed, 1)
            hint = f"; did you mean {near[0]}?" if near else f"; known here: {', '.join(sorted(allowed))}"
            place = f"{at}.{shown(key)}" if at else shown(key)
            self.stop(Code.UNKNOWN_KEY, place, f"{shown(key)} is not a part of {what}{hint}", found=shown(key))
        if len(unknown) > MAX_TOLD:
            self.stop(Code.UNKNOWN_KEY, at, f"{len(unknown) - MAX_TOLD:,} more names are not parts of {what}")
        return value

    def items(self, value: object, at: str, what: str) -> list[Any]:
        """Return a JSON list; an empty one where there is none."""
        if value is None:
            return []
        if not isinstance(value, list):
            self.not_understood(at, f"{what} has to be a list", value)
            return []
        if len(value) > MAX_LIST:
            self.not_understood(at, f"{what} holds {len(value):,} parts; at most {MAX_LIST} are taken in one visit")
            return value[:MAX_LIST]
        return value

    def text(self, value: object, at: str, what: str, *, longest: int = MAX_NAME, lines: bool = False) -> str:
        """Return a text without surrounding blanks; "" where there is none or it cannot be taken."""
        if value is None:
            return ""
        if not isinstance(value, str):
            self.not_understood(at, f"{what} has to be text", value)
            return ""
        if len(value) > longest:
            self.not_understood(at, f"{what} is {len(value):,} characters long; at most {longest:,} are kept")
            return ""
        bad = unprintable(value, lines=lines)
        if bad:
            self.not_understood(at, f"{what} holds {bad}, which cannot be shown or printed; type it again without")
            return ""
        return value.strip()

    def names(self, value: object, at: str, what: str) -> tuple[str, ...]:
        """Return a list of texts in lower case, such as targets, without empty ones and repetitions."""
        values = [value] if isinstance(value, str) else self.items(value, at, what)
        texts = [" ".join(self.text(v, f"{at}[{i}]", what).lower().split()) for i, v in enumerate(values)]
        return tuple(dict.fromkeys(text for text in texts if text))

    def quantity(self, read: Callable[[object], T], value: object, at: str) -> T | None:
        """Return a quantity read by one of the parsers; a text that is none becomes a finding."""
        if value is None or value == "":
            return None
        try:
            return read(value)
        except UnitKindError as error:
            self.stop(Code.UNIT_KIND, at, str(error), found=shown(value))
        except QuantityError as error:
            self.not_understood(at, str(error), value)
        return None

    def moment(self, value: object, at: str, what: str, zone: ZoneInfo) -> datetime | None:
        """Return an aware instant in the site's zone; a time without an offset is the site's local time."""
        if value is None or value == "":
            return None
        found = _MOMENT.fullmatch(value.strip()) if isinstance(value, str) else None
        example = "2026-05-14T09:10"
        if found is None or not FIRST_YEAR <= int(found[1][:4]) <= LAST_YEAR:
            self.not_understood(at, f"{what} is not a date with a time; write it like {example}", value)
            return None
        try:
            naive = f"{found[1]}T{found[2]}{found[3] or ''}"
            if found[4]:
                return datetime.fromisoformat(naive + found[4].upper()).astimezone(zone)
            local = datetime.fromisoformat(naive + "+00:00").replace(tzinfo=zone)
        except (ValueError, OverflowError):
            self.not_understood(
                at, f"{what} is not a day of the calendar and a time of day; write it like {example}", value
            )
            return None
        if local.utcoffset() != local.replace(fold=1).utcoffset():
            kind = "is skipped" if _is_skipped(local, zone) else "comes twice"
            first, second = (f"{found[0]}{one.isoformat()[-6:]}" for one in (local, local.replace(fold=1)))
            self.not_understood(
                at, f"{what} {kind} when the clocks change; write the offset too: {first} or {second}", value
            )
            return None
        return local

    def day(self, value: object, at: str, what: str) -> date | None:
        """Return a calendar day."""
        if value is None or value == "":
            return None
        if isinstance(value, str) and re.fullmatch(r"\d{4}-\d\d-\d\d", value.strip(), re.ASCII):
            try:
                return date.fromisoformat(value.strip())
            except ValueError:
                pass
        self.not_understood(at, f"{what} is not a day; write it like 2026-05-28", value)
        return None


def merge(reader: Reader, checked: list[Finding]) -> list[Finding]:
    """Put the two together; what could not be read is not called missing as well."""
    read = reader.findings
    if not read and not reader.unresolved:
        return checked
    told = [*reader.unresolved, *(finding.at for finding in read)]
    # A whole that cannot be read has no parts to miss, and a mix that cannot be shared out has no products.
    wholes = tuple(f"{one.at}{mark}" for one in read if one.code is Code.NOT_UNDERSTOOD and one.at for mark in ".[")
    told += [f"{place.rpartition('.')[0]}.products" for place in told if place.endswith((".mix", ".spray"))]

    def is_told(at: str) -> bool:
        return at.startswith(wholes) or any(place == at or place.startswith((f"{at}.", f"{at}[")) for place in told)

    return [*read, *(one for one in checked if one.code is not Code.MISSING or not is_told(one.at))]


def _is_skipped(local: datetime, zone: ZoneInfo) -> bool:
    back = local.astimezone(UTC).astimezone(zone)
    return back.replace(tzinfo=None) != local.replace(tzinfo=None)


def unprintable(text: str, *, lines: bool = False) -> str:
    """Name the first character that must not reach a terminal, a page or a sheet; "" when there is none.

    Control codes, lone surrogates and marks that turn the writing direction are refused; accents and joiners are not.
    """
    if text.isascii() and text.isprintable():
        return ""
    for char in text:
        if char >= " " and char < "\x7f":
            continue
        category = unicodedata.category(char)
        if category in {"Cc", "Cs", "Co", "Cn"} and not (lines and char in "\n\t"):
            return f"the character U+{ord(char):04X}"
        if char in "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\u200e\u200f\u061c\u2028\u2029":
            return f"the direction mark U+{ord(char):04X}"
    return ""


def shown(value: object) -> str:
    """Return a value as it may be echoed: short, one line, printable."""
    text = value if isinstance(value, str) else ("" if value is None else str(value)[:80])
    text = "".join(char if not unprintable(char) else "?" for char in text[:80])
    return text if len(text) < 80 else text[:77] + "..."


def nearest(name: str, known: Iterable[str]) -> str:
    """Return a hint naming what may have been meant."""
    options = list(known)
    near = difflib.get_close_matches(name, options, 2, 0.5)
    if near:
        return f"; did you mean {' or '.join(near)}?"
    few = ", ".join(sorted(options)[:8]) + (f" and {len(options) - 8} more" if len(options) > 8 else "")
    return f"; known: {few}" if few else ""
