"""The packet for a records inspection, and the sheet for an emergency: strings ready to print, nothing drawn yet.

A packet is told once and written as PDF, CSV, XLSX and JSON. Its tables are small enough to be kept; their rows may be
put into words one by one as they are written. Its records come as a stream, so that memory does not grow with them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from records.domain.report_model import Column, EmergencyLine, Fact, FirmHead

YES, NO, NOT_ASKED, REASON = "yes", "no", "not asked", "reason stated"
NOTHING = "None."  # what stands in place of an empty table

# Short codes of the fields of rules, for the head of a completeness table on paper; keyed as in `rules/fields.py`
FIELD_CODES = {
    "date": "Da",
    "time": "Ti",
    "start_time": "St",
    "end_time": "En",
    "customer_name": "Cn",
    "customer_address": "Ca",
    "customer_phone": "Cp",
    "authorized_by": "Au",
    "site_address": "Ad",
    "city": "Ci",
    "county": "Co",
    "zip": "Zi",
    "applicator_name": "An",
    "applicator_licence": "Al",
    "supervisor": "Su",
    "business_name": "Bn",
    "business_address": "Ba",
    "business_licence": "Bl",
    "wind_speed": "Ws",
    "wind_direction": "Wd",
    "temperature": "Te",
    "incident": "In",
    "insurance": "Is",
    "permit": "Pm",
    "mixing_place": "Mp",
    "site_type": "Sy",
    "area": "Ar",
    "extent": "Ex",
    "method": "Me",
    "equipment": "Eq",
    "total_mix": "Mx",
    "purpose": "Pu",
    "diluent": "Di",
    "product_name": "Pn",
    "epa_reg_no": "Rn",
    "active_ingredient": "Ai",
    "active_percent": "Ap",
    "formulation": "Fo",
    "analysis": "Gr",
    "maker": "Mk",
    "supplier": "Sp",
    "amount": "Am",
    "rate": "Ra",
    "dilution": "Dl",
    "target_pest": "Ta",
    "reentry": "Re",
}


class Rows(Protocol):
    """Rows of a table: counted, and told as often as anybody asks."""

    def __len__(self) -> int:
        """Return how many there are."""

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        """Yield them, one text for each column."""


@dataclass(frozen=True, slots=True)
class Told:
    """Rows that are put into words only when they are written."""

    facts: tuple[object, ...]
    words: Callable[[object], tuple[str, ...]]

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.facts)

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        """Yield them."""
        return map(self.words, self.facts)


@dataclass(frozen=True, slots=True)
class Counted:
    """Rows that are worked out each time they are told, so that nothing is kept of them."""

    count: int
    told: Callable[[], Iterator[tuple[str, ...]]]

    def __len__(self) -> int:
        """Return how many there are."""
        return self.count

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        """Yield them."""
        return self.told()


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a packet; the same strings go to paper, sheet and JSON."""

    key: str
    title: str
    columns: tuple[Column, ...]
    rows: Rows
    note: str = ""
    empty: str = NOTHING
    codes: Mapping[str, str] | None = None  # column -> short head, where the table is a grid of many narrow columns


@dataclass(frozen=True, slots=True)
class Change:
    """What an amendment changed."""

    what: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class RevisionPart:
    """One sealed text of a record."""

    number: int
    action: str  # "sealed", "amended", "voided"
    sealed_at: str
    who: str
    reason: str
    seal: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class RecordPart:
    """One record: what its rules ask for, in their order, then everything else it holds."""

    serial: str
    heading: str
    state: str  # "", or that it was voided, amended, late, incomplete, a deviation
    judged_by: str
    rule: tuple[Fact, ...]
    other: tuple[Fact, ...]
    deviation: tuple[str, ...]  # sentences
    findings: tuple[str, ...]
    revisions: tuple[RevisionPart, ...]
    applications: tuple[tuple[str, ...], ...]  # one row for each product put out, by the packet's `columns`


@dataclass(frozen=True, slots=True)
class PacketModel:
    """All of a packet but its records."""

    title: str
    subject: str
    firm: FirmHead
    issued: str  # as printed
    issued_on: str  # ISO 8601
    words: str  # what was asked, as a sentence
    asked: tuple[Fact, ...]  # who asked, what for
    counts: tuple[Fact, ...]
    last_seal: str
    seed: str  # "" without a random pull
    cautions: tuple[str, ...]
    tables: tuple[Table, ...]
    columns: tuple[Column, ...]  # of the applications

    def table(self, key: str) -> Table:
        """Return one of its tables.

        Raises:
            KeyError: it has none of that name.
        """
        for table in self.tables:
            if table.key == key:
                return table
        raise KeyError(key)


class PacketSink(Protocol):
    """Something that a packet is written into: first its model, then each record, then the end."""

    def begin(self, model: PacketModel) -> None:
        """Write all but the records."""

    def record(self, part: RecordPart) -> None:
        """Write one record."""

    def end(self) -> None:
        """Write what closes the file."""


@dataclass(frozen=True, slots=True)
class EmergencyProduct:
    """One application on the emergency sheet."""

    name: str
    identity: str  # registration number, signal word, restricted use
    actives: str
    amount: str
    where: str


@dataclass(frozen=True, slots=True)
class EmergencyVisit:
    """One visit on the emergency sheet."""

    when: str
    serial: str
    who: str
    products: tuple[EmergencyProduct, ...]


@dataclass(frozen=True, slots=True)
class FirstAid:
    """First aid words of labels, exactly as the label data have them."""

    products: tuple[str, ...]
    text: str
    missing: bool = False


@dataclass(frozen=True, slots=True)
class EmergencyModel:
    """One page for a doctor or a fire service: what was put out at an address lately."""

    title: str
    address: str
    issued: str
    issued_on: str
    firm: FirmHead
    phones: tuple[EmergencyLine, ...]
    first_aid: tuple[FirstAid, ...]
    span: str  # which days are told
    visits: tuple[EmergencyVisit, ...]  # newest first
    unsealed: tuple[str, ...]  # entries of that address that are still held
    left_out: str  # "" when all of it is told
    last_seal: str
    cautions: tuple[str, ...]

    def newest(self, count: int) -> EmergencyModel:
        """Return the sheet with so many visits, which says what was left out."""
        kept, gone = self.visits[:count], self.visits[count:]
        if not gone:
            return self
        names = {product.name for visit in kept for product in visit.products}
        told = f"{len(gone)} earlier {'visit is' if len(gone) == 1 else 'visits are'} left out of this page"
        serials = ", ".join(visit.serial for visit in gone[:12]) + (" ..." if len(gone) > 12 else "")
        return replace(
            self,
            visits=kept,
            first_aid=tuple(one for one in self.first_aid if names.intersection(one.products)),
            left_out=f"{told}: records {serials}.",
        )
