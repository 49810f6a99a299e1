"""Rule packs: what one jurisdiction asks of one kind of licence, as typed facts, each with its source."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from records.domain.spans import Span
    from records.rules.fertilizer import Fertilizer


class Status(StrEnum):
    """How a fact of a pack is known."""

    VERIFIED = "verified"  # the legal or agency text was read, on the page named or an archived copy of it
    SECONDARY = "secondary"  # read in a summary, a reprint or an extension page only
    MEMORY = "memory"  # not seen; asks, never stops
    FIRM = "firm"  # the firm's own rule

    @property
    def binds(self) -> bool:
        """Tell whether a fact may keep a visit from being sealed."""
        return self is not Status.MEMORY


STATUS_WORDS = {
    Status.VERIFIED: "verified",
    Status.SECONDARY: "secondary",
    Status.MEMORY: "from memory, not checked",
    Status.FIRM: "the firm's own rule",
}


@dataclass(frozen=True, slots=True)
class Source:
    """Where a fact stands."""

    citation: str  # "Minn. Stat. 18B.37 subd. 2"
    url: str
    seen: date | None  # the day the text, or an archived copy of it, was last read for this pack
    status: Status
    edition: str = ""  # how old the text is that was read: "2015 text", "copy of November 2024"

    @property
    def cited(self) -> str:
        """Return citation and status in one line."""
        return f"{self.citation} ({STATUS_WORDS[self.status]})"


@dataclass(frozen=True, slots=True)
class Asked:
    """One field a record has to hold, or one of a group of alternatives.

    `any_of` holds the alternatives, each a list of fields that belong together; a plain field is one alternative of
    one field. All of `when` and none of `unless` must hold for it to be asked (see `conditions.py`).
    """

    any_of: tuple[tuple[str, ...], ...]
    source: Source
    when: tuple[str, ...] = ()
    unless: tuple[str, ...] = ()
    words: str = ""  # what the rule says about it, in plain words
    if_applicable: bool = False  # a stated reason why it was not measured is answer enough

    @property
    def field(self) -> str:
        """Return its first field: where it stands in the rule's order, and where a finding points."""
        return self.any_of[0][0]

    @property
    def fields(self) -> tuple[str, ...]:
        """Return every field that it names."""
        return tuple(dict.fromkeys(name for alternative in self.any_of for name in alternative))


@dataclass(frozen=True, slots=True)
class Clock:
    """Within what time something has to be done, counted from the application."""

    within: Span
    source: Source
    words: str = ""


@dataclass(frozen=True, slots=True)
class Retention:
    """How long a record has to be kept, for which products, and from when."""

    products: str  # "all", "restricted", "other" (not restricted), or "active:NAME"
    years: int
    starts: str  # "application", "making", "amendment" (making or amendment, whichever is later)
    source: Source
    words: str = ""


@dataclass(frozen=True, slots=True)
class Production:
    """How fast and to whom a record has to be shown or handed over."""

    to: str  # "agency", "medical", "customer"
    asked: str  # how it is asked for: "on request", "oral or written request", "written request"
    within: str  # "at once", "72 hours", "business hours", ""
    source: Source
    words: str = ""


@dataclass(frozen=True, slots=True)
class CustomerCopy:
    """What the customer has to get, when, and on what."""

    moment: str  # "before", "visit" (at or on completion of the visit), "request", or "days" with `within`
    within: Span | None
    paper: bool
    electronic: str  # "yes", "consent" (recorded beforehand), "no", "" (the text does not say)
    content: tuple[str, ...]  # names of `notice_content.py`
    source: Source
    words: str = ""


@dataclass(frozen=True, slots=True)
class PeriodicReport:
    """A report that is due regularly."""

    id: str  # "ny-annual"
    title: str
    period: str  # "year" or "month"
    due: str  # "02-01" of the next year, or "10" of the next month
    to: str
    nil: bool  # due even when nothing was applied
    layout: str  # name of a layout of the report engine; "" where the tool cannot write it yet
    source: Source
    words: str = ""


@dataclass(frozen=True, slots=True)
class Sign:
    """What a lawn sign has to be, as far as the text was read."""

    size: str
    look: str
    wording: str
    put_up: str  # "before", "start", "after"
    stays: str  # in the rule's words
    hours: int | None  # how long it stays at least, where that is a number of hours
    source: Source
    words: str = ""


@dataclass(frozen=True, slots=True)
class AdvanceNotice:
    """Who has to be told before an application."""

    who: str
    lead: Span | None  # at least so long before; None: "before"
    source: Source
    words: str = ""
    written: bool = False  # has to be in writing: a call does not count


@dataclass(frozen=True, slots=True)
class Duty:
    """Something else the rule asks, told but not checked by the tool."""

    text: str
    source: Source


@dataclass(frozen=True)  # no slots: hashed by identity of id and version
class Pack:
    """The record rules of one jurisdiction and kind of licence, as one dated version."""

    id: str
    version: str
    title: str
    jurisdiction: str  # "US", or "US-MN"
    licence: str  # which licence holders it is for, in words
    products: str  # "all", or what the whole pack is about: "restricted"-use products, or "fertilizer"
    effective_from: date | None  # None: as far back as is known
    effective_to: date | None
    asked: tuple[Asked, ...] = ()  # in the rule's own field order
    complete: Clock | None = None
    hand_over: Clock | None = None
    retention: tuple[Retention, ...] = ()
    production: tuple[Production, ...] = ()
    copies: tuple[CustomerCopy, ...] = ()
    reports: tuple[PeriodicReport, ...] = ()
    signs: tuple[Sign, ...] = ()
    advance: tuple[AdvanceNotice, ...] = ()
    duties: tuple[Duty, ...] = ()
    fertilizer: Fertilizer | None = None
    sources: tuple[tuple[str, Source], ...] = ()
    is_overlay: bool = False  # written by the firm; applies beside whatever else applies

    def __hash__(self) -> int:
        """Return a hash of what a pack is known by."""
        return hash((self.id, self.version))

    @property
    def state(self) -> str:
        """Return the two letters of its state; "" where it is federal or the firm's own."""
        return self.jurisdiction.partition("-")[2]

    def is_in_force(self, day: date) -> bool:
        """Tell whether the version is in force on a day; both ends count."""
        return (self.effective_from is None or self.effective_from <= day) and (
            self.effective_to is None or day <= self.effective_to
        )

    @property
    def frozen(self) -> dict[str, str]:
        """Return what a record keeps of it."""
        return {"id": self.id, "version": self.version}
