"""What a state's law says about fertilizer on turf: the facts of a pack's `[fertilizer]` part, each with its source."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from records.domain.nutrients import share_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date
    from fractions import Fraction

    from records.domain.quantities import Quantity, Rate
    from records.rules.pack import Source

WHO = ("everyone", "professional", "homeowner")
PER = ("application", "year")
GROUNDS = ("frozen", "snow", "saturated")
STAGES = ("new", "repair")
# What lets phosphorus be put on all the same: a soil test, the stage of the turf, the kind of fertilizer.
ALLOWED = {
    "soil_test": "a soil test shows the need",
    "new": "the turf is established for the first time",
    "repair": "the turf is repaired or established again",
    "enhanced": "it is an enhanced-efficiency fertilizer",
    "organic": "it is a natural organic or organic-based fertilizer",
}
PRODUCTS = ("plain", "enhanced", "organic")


@dataclass(frozen=True, slots=True)
class Season:
    """Days of any year, both ends counted; may run over the turn of the year."""

    first: str  # "MM-DD"
    last: str

    def holds(self, day: date) -> bool:
        """Tell whether a day lies in it."""
        mark = f"{day:%m-%d}"
        return self.first <= mark <= self.last if self.first <= self.last else mark >= self.first or mark <= self.last

    def __str__(self) -> str:
        """Return it as written."""
        return f"{self.first} to {self.last}"


@dataclass(frozen=True, slots=True)
class NutrientLimit:
    """The most of a nutrient that may go on an area, at one time or in a calendar year."""

    nutrient: str  # "N", "soluble N", "P2O5", "P" (the element) or "K2O"
    per: str  # "application" or "year"
    most: Rate  # lb per area
    source: Source
    slow_least: Fraction | None = None  # of the nitrogen, this share at least has to be slow-release
    slow_below: Fraction | None = None  # for products with a smaller slow-release share only
    products: tuple[str, ...] = ()  # "plain", "enhanced", "organic"; empty: all
    turf: str = ""  # "cool-season" or "warm-season"
    season: Season | None = None
    words: str = ""
    advice: bool = False  # good practice, not law: noted
    ask: str = ""  # above it nothing is broken, but this has to be so, which nothing here can check: asked

    def told(self) -> str:
        """Return the limit in one line."""
        if self.ask:
            of = f" ({' and '.join(self.products)} fertilizer)" if self.products else ""
            return f"{self.nutrient}{of}: over {self.most} at one time, only where {self.ask}"
        per = "at one time" if self.per == "application" else "in a calendar year"
        parts = [f"{self.nutrient}: at most {self.most} {per}"]
        if self.slow_least is not None:
            parts.append(f"at least {share_text(self.slow_least)} of it slow-release")
        if self.slow_below is not None:
            parts.append(f"where less than {share_text(self.slow_below)} of it is slow-release")
        if self.products:
            parts.append(f"{' and '.join(self.products)} fertilizer")
        parts += [self.turf] if self.turf else []
        parts += [str(self.season)] if self.season else []
        parts += ["advice"] if self.advice else []
        return "; ".join(parts)


@dataclass(frozen=True, slots=True)
class Phosphorus:
    """That fertilizer with phosphorus may go on turf only where something lets it."""

    allowed: tuple[str, ...]  # keys of `ALLOWED`
    source: Source
    above: Fraction | None = None  # per cent of P2O5, as a share, that a fertilizer may hold without being one
    test_years: int | None = None  # how old a soil test may be
    words: str = ""

    def told(self) -> str:
        """Return the rule in one line."""
        above = f" over {share_text(self.above)} P2O5" if self.above is not None else ""
        ways = [ALLOWED[name] for name in self.allowed]
        if self.test_years is not None and "soil_test" in self.allowed:
            ways[self.allowed.index("soil_test")] += f" (not older than {self.test_years} years)"
        return f"no fertilizer with phosphorus{above} on turf, unless {' or '.join(ways) or 'the law says otherwise'}"


@dataclass(frozen=True, slots=True)
class Blackout:
    """Days on which no fertilizer may be put on turf."""

    season: Season
    who: str  # one of `WHO`
    source: Source
    nutrients: tuple[str, ...] = ()  # fertilizer that holds any of these; empty: any fertilizer
    above: Rate | None = None  # only for more nitrogen than this at one time
    words: str = ""

    def told(self) -> str:
        """Return the rule in one line."""
        what = " or ".join(self.nutrients) or "any fertilizer"
        above = f", more than {self.above} N at one time" if self.above is not None else ""
        return f"{self.season}, {self.who}: {what}{above}"


@dataclass(frozen=True, slots=True)
class BarredGround:
    """Ground on which no fertilizer may be put."""

    states: tuple[str, ...]  # of `GROUNDS`
    source: Source
    nutrients: tuple[str, ...] = ()
    words: str = ""

    def told(self) -> str:
        """Return the rule in one line."""
        what = " or ".join(self.nutrients) or "any fertilizer"
        return f"{what} on ground that is {' or '.join(self.states)}" + (f" ({self.words})" if self.words else "")


@dataclass(frozen=True, slots=True)
class Setback:
    """How far fertilizer has to stay from water."""

    distance: Quantity
    source: Source
    smaller: Quantity | None = None  # with a drop spreader, a deflector or targeted liquid
    nutrients: tuple[str, ...] = ()
    words: str = ""
    advice: bool = False  # good practice, not law: noted
    unless: str = ""  # what the law excepts, which only the person there can tell: asked
    stages: tuple[str, ...] = ()  # of the turf, that the law excepts

    def told(self) -> str:
        """Return the rule in one line."""
        smaller = f"; {self.smaller} with a drop spreader, deflector or targeted liquid" if self.smaller else ""
        unless = f", unless {self.unless}" if self.unless else ""
        return f"{self.distance} from water{smaller}{unless}" + (" (advice)" if self.advice else "")


@dataclass(frozen=True, slots=True)
class HardGround:
    """That fertilizer may not lie on pavement, and what to do with what fell there."""

    source: Source
    words: str

    def told(self) -> str:
        """Return the rule in one line."""
        return self.words


@dataclass(frozen=True, slots=True)
class Fertilizer:
    """What a pack says about fertilizer."""

    limits: tuple[NutrientLimit, ...] = ()
    phosphorus: tuple[Phosphorus, ...] = ()
    blackout: tuple[Blackout, ...] = ()
    ground: tuple[BarredGround, ...] = ()
    setback: tuple[Setback, ...] = ()
    hard: tuple[HardGround, ...] = ()

    def facts(self) -> Iterator[tuple[str, str, str, Source]]:
        """Yield every fact: what about, what it says, in the rule's words, where it stands."""
        about = {"limits": "nutrients", "hard": "pavement"}
        for part in fields(self):
            for fact in getattr(self, part.name):
                yield about.get(part.name, part.name), fact.told(), fact.words, fact.source
