"""What a plan says: loads with their products and stops, everything worked out, nothing written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from records.domain.findings import Finding, Severity

if TYPE_CHECKING:
    from datetime import date
    from fractions import Fraction

    from records.domain.formulations import Order
    from records.domain.handling import Worn
    from records.domain.loads import Split
    from records.domain.measuring import Mark
    from records.domain.people import Business, Person
    from records.domain.place import Equipment, Site, Zone
    from records.domain.product import Product
    from records.domain.quantities import Quantity, Rate
    from records.rules.headroom import Room


@dataclass(frozen=True, slots=True)
class Output:
    """The output a load is planned with: spray per area, and where it is from."""

    rate: Rate
    words: str  # "calibrated 2026-04-13"
    is_stale: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """One product of a load at its rate."""

    product: Product
    rate: Rate
    lot: str
    printed: str  # what the label prints for this use; "" where it prints nothing for it
    is_labels: bool  # whether the rate is the only one the label prints, not chosen
    dose: Rate | None  # per gallon of finished spray
    strength: Fraction | None  # per cent by volume
    own_dose: str  # what the label prints per gallon; "" where it prints none
    lacking: str = ""  # what the label has no line for, with the code that closing gives it; "" where it has all


@dataclass(frozen=True, slots=True)
class Measure:
    """How much of one product goes into one load, and how it is measured."""

    amount: Quantity
    marks: tuple[Mark, ...]
    most: Fraction | None  # base units that the labels and what is left of their ceilings allow; None: not known


@dataclass(frozen=True, slots=True)
class Charge:
    """One size of load: a full one, the last one, or a gallon of a hand can."""

    words: str  # "full load", "last load", "each gallon"
    times: int  # how often it is mixed; 0: told for dosing only
    size: Quantity  # finished spray, or granules
    covers: Quantity | None  # sq ft
    measures: tuple[Measure | None, ...]  # for each part; None where its amount does not follow


@dataclass(frozen=True, slots=True)
class Stop:
    """One address, or a plain area, with what would be met there."""

    number: int
    site: Site | None
    zones: tuple[Zone, ...]
    left_out: tuple[str, ...]  # zones of the site that are not treated, each with the reason
    area: Quantity | None
    spray: Quantity | None
    loads: tuple[int, int] | None  # first and last load that it draws on
    amounts: tuple[Quantity | None, ...]  # for each part
    findings: tuple[Finding, ...] = ()
    rooms: tuple[Room, ...] = ()

    @property
    def place(self) -> str:
        """Return the address; an area alone has none."""
        return "" if self.site is None else f"{self.site.address}, {self.site.city}"

    @property
    def key(self) -> str:
        """Return the site's id, or what stands for it."""
        return "area" if self.site is None else self.site.id


@dataclass(frozen=True, slots=True)
class Step:
    """One step of mixing."""

    words: str
    product: str = ""  # id of what goes in; "" where nothing does
    letter: str = ""


@dataclass(frozen=True, slots=True)
class Recipe:
    """The order in which a load is mixed."""

    steps: tuple[Step, ...]
    source: str
    order: Order | None  # None: the label's own
    unplaced: tuple[str, ...] = ()  # what the order has no place for, each with the reason
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """One line that binds the whole load, with the label that says it."""

    name: str  # "wind", "temperature", "re-entry", "keep off"
    words: str
    products: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Load:
    """One piece of equipment with one mix for a row of stops."""

    id: str
    equipment: Equipment
    method: str
    targets: tuple[str, ...]
    output: Output | None
    tank: Quantity | None
    parts: tuple[Part, ...]
    area: Quantity | None
    whole: Quantity  # finished spray, or granules
    split: Split
    charges: tuple[Charge, ...]
    stops: tuple[Stop, ...]
    recipe: Recipe | None  # None where nothing is mixed
    jar_tests: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]
    ppe_mix: tuple[Worn, ...]
    ppe_apply: tuple[Worn, ...]
    ppe_unknown: tuple[str, ...]  # products whose protective equipment is not in the book
    notes: tuple[str, ...]
    findings: tuple[Finding, ...]  # of the mix itself

    @property
    def is_spread(self) -> bool:
        """Tell whether it is spread dry."""
        return self.recipe is None


@dataclass(frozen=True, slots=True)
class Plan:
    """A day, planned."""

    day: date
    business: Business
    by: Person | None
    temperature: str
    loads: tuple[Load, ...]
    findings: tuple[Finding, ...]  # of the people
    not_checked: tuple[str, ...]  # what was not looked at, as it was not said

    def every_finding(self) -> list[Finding]:
        """Return all findings, those of people, then load by load."""
        found = [*self.findings]
        for load in self.loads:
            found += load.findings
            for stop in load.stops:
                found += stop.findings
        return found

    @property
    def stops(self) -> bool:
        """Tell whether anything found would stop a visit or the mix."""
        return any(finding.severity is Severity.STOP for finding in self.every_finding())


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan, or why there is none."""

    plan: Plan | None
    problems: tuple[str, ...] = ()
