"""Until when a record has to be kept: pure calendar arithmetic over the retention facts of packs.

Every fact counts, one from memory too: the tool may let a firm keep a record too long, never too short. Where a rule
sets other years for classes of products (R 285.636.15: three years for restricted use, one year for the rest; ATCP
30.31(5): three years for atrazine), one visit is kept until the longest of its lines.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from records.rules.pack import STATUS_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from records.rules.pack import Pack, Retention

DEFAULT_YEARS = 7  # RCW 17.21.100, the longest of the packs; a test holds the two equal
DEFAULT = "no rule seen; the longest known is Washington's 7 years"
STARTS = {
    "application": "the application",
    "making": "the making of the record",
    "amendment": "the making or the last change of the record",
}


@dataclass(frozen=True, slots=True)
class Classes:
    """Which classes of products a record holds, as far as retention facts tell them apart."""

    restricted: bool = False  # holds a restricted-use product, or one of which that is not known
    other: bool = True  # holds one that is not, or of which that is not known
    actives: frozenset[str] = frozenset()  # lower case
    is_sure: bool = True  # whether all actives are known; else a fact about one active may be about this record


@dataclass(frozen=True, slots=True)
class Starts:
    """The local days from which years may be counted."""

    application: date
    making: date
    changed: date  # the day the last revision was sealed

    def of(self, starts: str) -> date:
        """Return the day that a retention fact counts from.

        A record that is made or amended counts from the later of the two (Conn. Gen. Stat. 22a-66g).
        """
        if starts == "application":
            return self.application
        return self.making if starts == "making" else max(self.making, self.changed)


@dataclass(frozen=True, slots=True)
class Term:
    """One reason to keep a record, with its last day."""

    last_day: date  # the record is kept through this day
    years: int
    starts: str
    start: date
    pack: str  # "" where no rule was seen
    citation: str
    status: str
    url: str = ""
    products: str = "all"

    @property
    def rule(self) -> str:
        """Return the fact in one line: who asks for how long, from when, where it stands and how that is known."""
        years = f"{self.years} year{'' if self.years == 1 else 's'} from {STARTS[self.starts]}"
        if not self.pack:
            return f"{years}: {self.citation}"
        which = "" if self.products == "all" else f" ({self.products.replace(':', ' ')})"
        return f"{self.pack}: {years}{which}, {self.citation} ({self.status})"


def add_years(day: date, years: int) -> date:
    """Return the same day so many years on; February 29 becomes March 1 where there is none.

    March 1, not February 28: a period "of two years from" a day is never over before its last full day, and a record
    must not be taken away a day early. (How a court counts from February 29 was not read in any of the rules; the later
    day is the safe one.)
    """
    year = min(day.year + years, date.max.year)
    try:
        return day.replace(year=year)
    except ValueError:
        return date(year, 3, 1)


def applies(fact: Retention, held: Classes) -> bool:
    """Tell whether a retention fact is about a record; where that cannot be told, it is."""
    if fact.products == "restricted":
        return held.restricted
    if fact.products == "other":
        return held.other
    if fact.products.startswith("active:"):
        name = fact.products.removeprefix("active:").strip().lower()
        return not held.is_sure or any(name in active for active in held.actives)
    return True


def needs_classes(packs: Iterable[Pack]) -> bool:
    """Tell whether the products of a record matter to how long it is kept."""
    return any(fact.products != "all" for pack in packs for fact in pack.retention)


def terms(packs: Iterable[Pack], held: Classes, starts: Starts) -> tuple[Term, ...]:
    """Return every reason to keep a record, the one that lasts longest first; at least one.

    Args:
        packs: that judge the record.
        held: the classes of its products.
        starts: the days that may be counted from.
    """
    found = [
        Term(
            add_years(start := starts.of(fact.starts), fact.years),
            fact.years,
            fact.starts,
            start,
            pack.id,
            fact.source.citation,
            STATUS_WORDS[fact.source.status],
            fact.source.url,
            fact.products,
        )
        for pack in packs
        for fact in pack.retention
        if applies(fact, held)
    ]
    if not found:
        start = max(starts.application, starts.making)
        found = [Term(add_years(start, DEFAULT_YEARS), DEFAULT_YEARS, "making", start, "", DEFAULT, "no rule seen")]
    return longest_first(found)


def longest_first(found: Iterable[Term]) -> tuple[Term, ...]:
    """Return terms by their last day, the latest first."""
    return tuple(sorted(found, key=lambda term: (-term.last_day.toordinal(), term.pack, term.products)))
