"""What is bought, and what its label says."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, Generic, TypeVar

if TYPE_CHECKING:
    from fractions import Fraction

    from records.domain.handling import Mixing, Ppe
    from records.domain.nutrients import Analysis
    from records.domain.quantities import Form, Per, Quantity, Rate
    from records.domain.spans import Span

T = TypeVar("T")


class ProductKind(StrEnum):
    """What the law takes a product for."""

    PESTICIDE = "pesticide"
    ADJUVANT = "adjuvant"
    FERTILIZER = "fertilizer"
    MINIMUM_RISK = "minimum-risk"  # exempt under FIFRA 25(b), 40 CFR 152.25(f)


class Force(StrEnum):
    """How a label line binds: a `must` line stops, a `should` line is a note."""

    MUST = "must"
    SHOULD = "should"


@dataclass(frozen=True, slots=True)
class Content:
    """How much active a product holds: weight per volume, or per cent by weight.

    `pounds_per_base` is lb of active per base unit of product: per fl oz when `per` is "gal" or "L", per lb when the
    content is per cent by weight of a dry product. A liquid with only a per cent by weight needs its density.
    """

    text: str
    pounds_per_base: Fraction | None


@dataclass(frozen=True, slots=True)
class Active:
    """An active ingredient with its content, basis (`ai` or `ae`) and mode-of-action group."""

    name: str  # common name in lower case: what actives are told apart and summed by
    content: Content
    basis: str = "ai"
    group: str = ""
    printed: str = ""  # the name as the label writes it, for paper

    def pounds(self, amount: Quantity) -> Fraction | None:
        """Return the active in an amount of product, in lb; None where the content does not tell.

        Args:
            amount: undiluted product, in its own kind of unit.
        """
        per_base = self.content.pounds_per_base
        return None if per_base is None or amount.unit == "oz" else amount.base * per_base


@dataclass(frozen=True, slots=True)
class PrintedRate:
    """One basis as the label prints it; either end may be absent."""

    low: Rate | None
    high: Rate | None

    @property
    def per(self) -> Per:
        """Return what the printed rate is related to."""
        rate = self.high or self.low
        assert rate is not None  # noqa: S101 - the reader refuses a line without either end
        return rate.per


@dataclass(frozen=True, slots=True)
class LimitLine(Generic[T]):
    """A limit of the label: the value, how it binds, and the words it is printed in."""

    value: T
    force: Force = Force.MUST
    text: str = ""


@dataclass(frozen=True, slots=True)
class Window:
    """Over which days a yearly limit counts: `calendar year`, so many `months` or `days` back, or a `season`."""

    kind: str
    length: int = 0  # months or days
    start: str = ""  # "MM-DD" of a season
    end: str = ""


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits of a label or of one of its uses; None or empty where the label prints none."""

    wind: LimitLine[Quantity] | None = None
    temperature: LimitLine[Quantity] | None = None
    interval_days: LimitLine[int] | None = None
    applications: LimitLine[int] | None = None
    per_year: LimitLine[tuple[Rate, ...]] | None = None  # product, every printed basis
    active_per_year: tuple[tuple[str, LimitLine[Rate]], ...] = ()  # active name ("" = the only one), lb per area
    window: Window = field(default_factory=lambda: Window("calendar year"))


@dataclass(frozen=True, slots=True)
class Use:
    """One line of the label's directions: where, on what turf, how, against what, at which rates."""

    site: str
    method: tuple[str, ...]  # empty: any
    targets: tuple[str, ...]  # empty: not restricted
    rates: tuple[PrintedRate, ...]
    turf: tuple[str, ...] = ()  # tolerant species; empty: any
    sensitive: tuple[str, ...] = ()  # named as sensitive: asks
    not_tolerant: tuple[str, ...] = ()  # named as not to be treated: stops
    target_force: Force = Force.SHOULD  # MUST where the label forbids targets it does not name
    minimum_force: Force = Force.SHOULD  # MUST where the label forbids less than its minimum
    limits: Limits | None = None  # replaces the label's own limits line by line
    text: str = ""

    def __hash__(self) -> int:
        """Return a hash of some of its words, as a label does."""
        return hash((self.site, self.method, self.targets))


@dataclass(frozen=True)  # no slots: its hash is kept in it
class Label:
    """One revision of a product's label."""

    revision: str
    uses: tuple[Use, ...]
    limits: Limits
    keep_off: str = ""
    precautions: tuple[str, ...] = ()
    first_aid: str = ""
    results: str = ""
    reentry: Span | None = None  # the label's re-entry interval, where it sets one
    spanish: tuple[tuple[str, str], ...] = ()  # keep_off, precautions ... in the label's own Spanish, where printed
    mixing: Mixing | None = None  # order, partners and adjuvants, as far as the label says
    ppe: Ppe | None = None  # protective equipment
    copy: str = ""  # where a copy of it is kept: a binder, a file, an address

    @cached_property
    def _hash(self) -> int:
        first = self.uses[0] if self.uses else None
        return hash((self.revision, self.results, len(self.uses), first and (first.site, first.targets)))

    def __hash__(self) -> int:
        """Return a hash of a few of its words: what was found out about a label is looked up by it all the time."""
        return self._hash


@dataclass(frozen=True, slots=True)
class Product:
    """What is bought."""

    id: str
    name: str
    kind: ProductKind
    form: Form
    registration: str = ""  # normalised; "" where none exists
    exemption: str = ""
    type: str = "herbicide"  # the word for notices
    signal_word: str = ""
    restricted_use: bool = False
    actives: tuple[Active, ...] = ()
    label: Label | None = None
    maker: str = ""  # the registrant on the label
    supplier: str = ""  # who sold it, where that is always the same
    regulated: tuple[str, ...] = ()  # states that regulate it beyond its label, such as TX
    formulation: str = ""  # one of `formulations.FORMULATIONS`; "" = not known
    analysis: Analysis | None = None  # of a fertilizer, or a weed killer on one
    sds: str = ""  # where its safety data sheet is kept
    version: int = 0  # catalogue version in the book; 0 = not loaded

    def __hash__(self) -> int:
        """Return a hash of what a product is known by; the rest of it is compared where two have the same."""
        return hash((self.id, self.version, self.name))

    @property
    def is_pesticide(self) -> bool:
        """Tell whether the law takes it for a pesticide (adjuvants and fertilizers are not, federally)."""
        return self.kind is ProductKind.PESTICIDE or self.kind is ProductKind.MINIMUM_RISK
