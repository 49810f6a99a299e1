"""Tables of a loaded document, read key by key: every problem is collected, nothing is raised.

A `Table` remembers which keys were asked for, so that `finish` can name those nobody knows. Texts come out in Unicode
normal form C with single blanks; amounts, days and the rest come out as domain values, or None beside a problem.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING, Any, TypeVar

from records.domain.numerals import QuantityError
from records.domain.states import STATES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

NAME = 120
LINE = 300
PROSE = 4_000
MANY = 500  # entries in one list of a document
_TOLD = 20  # unknown keys named in one table
T = TypeVar("T")
_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}", re.ASCII)
_PATH = re.compile(r"[A-Za-z0-9_.\[\]-]{1,60}", re.ASCII)  # what a path of keys is made of; anything else is quoted
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2})?(?:Z|[+-]\d{2}:\d{2})?", re.ASCII)
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})  # control, invisible, half a pair, separators
_BREAKS = frozenset("\n\r\t")


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a document: where, as a path of keys, and what."""

    where: str
    what: str


def shown(text: str, width: int = 40) -> str:
    """Return hostile text fit for a message: short, quoted, nothing invisible in it."""
    cut = "".join(c if c.isprintable() else "?" for c in text[:width])
    return f"{cut!r}..." if len(text) > width else repr(cut)


def kind_of(value: object) -> str:
    """Return the word for what a value is, as a person who wrote the file would say it."""
    if isinstance(value, bool):
        return "true or false"
    if isinstance(value, int | float | Decimal):
        return "a number"
    if isinstance(value, date | time):
        return "a date or time"
    words = {str: "text", list: "a list", dict: "a table", type(None): "null"}
    return words.get(type(value), "something else")


def suggestion(word: str, known: Iterable[str]) -> str:
    """Return `did you mean ...?` when a known word is close, else the empty text."""
    close = difflib.get_close_matches(word[:80].lower(), list(known), n=1, cutoff=0.7)
    return f"did you mean {close[0]}?" if close else ""


class Table:
    """One table of a document, with its place and the list that problems go to."""

    def __init__(self, content: Mapping[str, Any], where: str, problems: list[Problem]) -> None:
        """Keep the content; nothing is read yet."""
        self._content = content
        self._where = where
        self._problems = problems
        self._asked: dict[str, None] = {}

    def at(self, key: str) -> str:
        """Return the path of a key, as messages name it."""
        plain = key if _PATH.fullmatch(key) else shown(key)
        return f"{self._where}.{plain}" if self._where else plain

    def problem(self, key: str, what: str) -> None:
        """Note that something is wrong with a key ("" = the table itself)."""
        self._problems.append(Problem(self.at(key) if key else self._where, what))

    def raw(self, key: str) -> Any:  # noqa: ANN401 - whatever the file holds
        """Return what stands at a key; None where it is absent or null."""
        self._asked[key] = None
        return self._content.get(key)

    def has(self, key: str) -> bool:
        """Tell whether a key holds anything."""
        return self.raw(key) is not None

    def keys(self) -> list[str]:
        """Return all keys, for tables whose keys are names."""
        return list(self._content)

    def missing(self, key: str, hint: str = "") -> None:
        """Note that a required key is absent."""
        self.problem(key, f"is missing; {hint}" if hint else "is missing")

    def finish(self) -> None:
        """Note every key that nobody asked for."""
        unknown = [key for key in self._content if key not in self._asked]
        if len(unknown) > _TOLD:
            self.problem("", f"holds {len(unknown):,} unknown keys; the first {_TOLD} follow")
        for key in unknown[:_TOLD]:
            hint = suggestion(key, self._asked) or f"known here: {', '.join(self._asked)}"
            self.problem(key, f"is not known; {hint}")

    def _checked(self, key: str, value: object, cap: int, *, where: str | None = None) -> str:
        """Return a text cleaned, or "" beside a problem."""
        place = self.at(key) if where is None else where
        if not isinstance(value, str):
            self._problems.append(Problem(place, f"is {kind_of(value)}; write text in quotes"))
            return ""
        if len(value) > cap:
            self._problems.append(Problem(place, f"is {len(value):,} characters long; {cap:,} fit"))
            return ""
        plain = value.isascii() and value.isprintable()  # nearly always, and then nothing in it is hidden
        bad = (
            None if plain else next((c for c in value if unicodedata.category(c) in _HIDDEN and c not in _BREAKS), None)
        )
        if bad is not None:
            self._problems.append(
                Problem(place, f"holds an invisible or control character (U+{ord(bad):04X}); delete it")
            )
            return ""
        text = " ".join(unicodedata.normalize("NFC", value).split())
        if not text:
            self._problems.append(Problem(place, "is empty; fill it in, or leave the key out if there is none"))
        return text

    def text(self, key: str, *, required: bool = False, cap: int = LINE, hint: str = "") -> str:
        """Return a text, single-spaced; "" where it is absent or wrong."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, hint)
            return ""
        return self._checked(key, value, cap)

    def texts(self, key: str, *, cap: int = LINE, lower: bool = False) -> tuple[str, ...]:
        """Return one text or a list of texts as a tuple, each once; empty where absent."""
        value = self.raw(key)
        if value is None:
            return ()
        found: dict[str, None] = {}
        for place, item in self._items(key, value):
            text = self._checked(key, item, cap, where=place)
            if text:
                found[text.lower() if lower else text] = None
        return tuple(found)

    def _items(self, key: str, value: object) -> list[tuple[str, Any]]:
        """Return what stands in a list, or one value alone, with the place of each."""
        if not isinstance(value, list):
            return [(self.at(key), value)]
        if len(value) > MANY:
            self.problem(key, f"has {len(value):,} entries; {MANY} fit")
            return []
        return [(f"{self.at(key)}[{index}]", item) for index, item in enumerate(value)]

    def identifier(self, key: str = "id", *, required: bool = True) -> str:
        """Return an id: letters, digits, dot, dash and underscore."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, "give it a short name of your own, such as lark-lane-7")
            return ""
        text = self._checked(key, value, PROSE)
        if text and not _ID.fullmatch(text):
            self.problem(
                key, f"{shown(text)} is no id; use up to 64 letters, digits, - _ . and begin with one of the first two"
            )
            return ""
        return text

    def choice(self, key: str, choices: Iterable[str], *, required: bool = False) -> str:
        """Return one of a few words, in lower case; "" where it is absent or none of them."""
        words = list(choices)
        text = self.text(key, required=required, cap=NAME, hint=f"one of: {', '.join(words)}").lower()
        if text and text not in words:
            hint = f"{suggestion(text, words)} one of: {', '.join(words)}".strip()
            self.problem(key, f"{shown(text)} is not known; {hint}")
            return ""
        return text

    def state(self, key: str = "state", *, required: bool = True) -> str:
        """Return the two-letter code of a state."""
        text = self.text(key, required=required, cap=NAME, hint="two letters, such as MN").upper()
        if text and text not in STATES:
            self.problem(key, f"{shown(text)} is no state; write its two letters, such as MN")
            return ""
        return text

    def flag(self, key: str) -> bool:
        """Return true or false; false where absent."""
        value = self.raw(key)
        if value is None:
            return False
        if isinstance(value, bool):
            return value
        self.problem(key, f"is {kind_of(value)}; write true or false without quotes")
        return False

    def day(self, key: str, *, required: bool = False) -> date | None:
        """Return a day, from a TOML date or ISO text."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, "write a day, such as 2026-01-31")
            return None
        if isinstance(value, date) and not isinstance(value, datetime):
            return value
        if isinstance(value, str) and _DAY.fullmatch(value.strip()):
            try:
                return date.fromisoformat(value.strip())
            except ValueError:
                self.problem(key, f"{shown(value)} is no day of the calendar; write it like 2026-01-31")
                return None
        found = shown(value) if isinstance(value, str) else kind_of(value)
        self.problem(key, f"{found} is no day; write year-month-day, such as 2026-01-31")
        return None

    def moment(self, key: str) -> str:
        """Return a required day and time as ISO text, from a TOML date-time or such a text."""
        value = self.raw(key)
        if value is None:
            self.missing(key, "write day and time, such as 2026-05-12T07:30")
            return ""
        text = value.isoformat() if isinstance(value, datetime) else value
        if isinstance(text, str):
            text = re.sub(r"\.\d+", "", text.strip()[:40])
            if _MOMENT.fullmatch(text):
                try:
                    moment = datetime.fromisoformat(text)
                except ValueError:
                    pass
                else:
                    return moment.isoformat(timespec="seconds" if moment.second else "minutes")
        found = shown(text) if isinstance(text, str) else kind_of(value)
        self.problem(key, f"{found} is no day and time; write it like 2026-05-12T07:30")
        return ""

    def whole(self, key: str, value: object, least: int, most: int) -> int | None:
        """Return a whole number within bounds, or None beside a problem."""
        if isinstance(value, bool) or not isinstance(value, int):
            self.problem(key, f"is {kind_of(value)}; write a whole number without quotes, such as {max(least, 2)}")
            return None
        if not least <= value <= most:
            self.problem(key, f"is out of bounds; {least} to {most} is understood")
            return None
        return value

    def parsed(self, key: str, value: object, parse: Callable[[str], T], example: str, *, where: str = "") -> T | None:
        """Return a text understood by a parser of amounts, or None beside a problem.

        Args:
            key: it stands at.
            value: what the file holds there.
            parse: raises `QuantityError` for what it does not understand.
            example: of what would be understood.
            where: place for messages, where it is not the key's own.
        """
        place = where or self.at(key)
        if not isinstance(value, str):
            bare = " without its unit" if kind_of(value) == "a number" else ""
            self._problems.append(Problem(place, f"is {kind_of(value)}{bare}; write it in quotes like {example}"))
            return None
        text = self._checked(key, value, LINE, where=place)
        if not text:
            return None
        try:
            return parse(text)
        except QuantityError as error:
            self._problems.append(Problem(place, str(error)))
            return None

    def amount(self, key: str, parse: Callable[[str], T], example: str, *, required: bool = False) -> T | None:
        """Return what a parser of amounts understands at a key; None where it is absent or wrong."""
        value = self.raw(key)
        if value is None:
            if required:
                self.missing(key, f"write it like {example}")
            return None
        return self.parsed(key, value, parse, example)

    def amounts(self, key: str, parse: Callable[[str], T], example: str) -> tuple[T, ...]:
        """Return what a parser of amounts understands of one text or a list of texts; empty where absent."""
        value = self.raw(key)
        found = [] if value is None else self._items(key, value)
        read = [self.parsed(key, item, parse, example, where=place) for place, item in found]
        return tuple(one for one in read if one is not None)

    def table(self, key: str) -> Table | None:
        """Return the table at a key, or None where it is absent or something else."""
        value = self.raw(key)
        return None if value is None else self.sub(key, value)

    def sub(self, key: str, value: object, *, where: str = "") -> Table | None:
        """Return a value as a table of its own, or None beside a problem."""
        place = where or self.at(key)
        if isinstance(value, dict):
            return Table(value, place, self._problems)
        self._problems.append(Problem(place, f"is {kind_of(value)}; a table (key = value pairs) belongs here"))
        return None

    def tables(self, key: str, *, least: str = "") -> list[Table]:
        """Return the tables of a list; problems for what else stands there.

        Args:
            key: of the list.
            least: an example; where it is given, the list may not be absent or empty.
        """
        value = self.raw(key)
        if value is None or value == []:
            if least:
                self.missing(key, f"give at least one, such as {least}")
            return []
        if not isinstance(value, list):
            self.problem(key, f"is {kind_of(value)}; a list of tables belongs here")
            return []
        found = [self.sub(key, item, where=place) for place, item in self._items(key, value)]
        return [table for table in found if table is not None]

    def strings_or_tables(self, key: str) -> list[tuple[str, str | Table]]:
        """Return one entry or a list of entries, plain texts or tables, each with its own key such as `turf[1]`."""
        value = self.raw(key)
        found: list[tuple[str, str | Table]] = []
        for place, item in [] if value is None else self._items(key, value):
            entry = Table(item, place, self._problems) if isinstance(item, dict) else ""
            entry = entry or self._checked(key, item, LINE, where=place)
            if entry:
                found.append((place.removeprefix(f"{self._where}."), entry))
        return found


def open_document(doc: object, problems: list[Problem], where: str) -> Table | None:
    """Return a document as a table, or None beside a problem."""
    if isinstance(doc, dict):
        return Table(doc, where, problems)
    problems.append(Problem(where, f"is {kind_of(doc)}; a table (key = value pairs) belongs here"))
    return None
