"""What the services need from storage and rendering, as Protocols: `bootstrap.py` plugs the real ones in."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

from records.domain.history import PastUse

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import date, datetime
    from fractions import Fraction
    from types import TracebackType
    from typing import Self

    from records.domain.report_model import NoticeModel, SummaryModel, Wording
    from records.services.account_ports import Account

__all__ = [
    "ActiveRow",
    "Catalogue",
    "CatalogueEntry",
    "Criteria",
    "FlaggedRecord",
    "Held",
    "HeldEntry",
    "Json",
    "Match",
    "OpenBook",
    "Outline",
    "Packet",
    "PastUse",
    "Records",
    "RemovedRow",
    "Renderer",
    "StoredRevision",
    "SummaryRows",
    "TargetRow",
    "UnitOfWork",
    "UseRow",
    "YearStubs",
]

Json = dict[str, Any]  # a JSON object: str, int, bool, None, lists and objects


@dataclass(frozen=True, slots=True)
class CatalogueEntry:
    """One dated version of a loaded document."""

    kind: str
    id: str
    version: int
    loaded_at: datetime
    body: Json
    text: str = ""  # the body as stored, where it is at hand: tells two of them apart quicker than their parts do


@dataclass(frozen=True, slots=True)
class StoredRevision:
    """One sealed revision as stored."""

    order: int
    serial: str
    revision: int
    action: str
    sealed_at: str
    previous: str
    seal: str
    body: Json
    text: str = ""  # the body as canonical JSON where it is at hand; saves writing it twice


@dataclass(frozen=True, slots=True)
class HeldEntry:
    """A refused visit as it stands: its last event."""

    number: str
    state: str  # "held", "sealed", "dropped"
    at: datetime  # of the first event
    changed_at: datetime
    ref: str | None
    person: str | None
    document: Json
    findings: list[dict[str, str]]
    reason: str
    serial: str | None


@dataclass(frozen=True, slots=True)
class Criteria:
    """What `find` looks for; every given part has to match (texts: case-blind, anywhere in the name)."""

    site: str | None = None  # id or part of the address
    customer: str | None = None  # id or part of the name
    product: str | None = None  # id, part of the name, or registration number
    active: str | None = None
    person: str | None = None  # id or part of the name
    target: str | None = None
    lot: str | None = None  # whole, or one of several that a line names
    since: date | None = None
    until: date | None = None
    deviation: bool | None = None
    incomplete: bool | None = None
    limit: int | None = None


@dataclass(frozen=True, slots=True)
class Packet:
    """What an inspection asks for; every given part has to match, product parts within one application.

    A record without a day (a month's total) matches when its month touches the days asked for.
    """

    since: date | None = None
    until: date | None = None
    sites: frozenset[str] = frozenset()  # ids; none: any
    customer: str | None = None  # id or part of the name
    person: str | None = None  # id or part of the name
    product: str | None = None  # id, part of the name, or registration number
    registration: str | None = None  # whole number, or the federal number within one that a state has extended
    active: str | None = None  # part of the name
    serials: frozenset[str] = frozenset()  # none: any


class Match(NamedTuple):
    """The latest revision of a record that a packet asks for, without its body."""

    order: int
    serial: str
    day: str | None
    revision: int


class Outline(NamedTuple):
    """What can be told of the latest revision of a record without reading its whole body."""

    order: int
    serial: str
    revision: int
    action: str
    kind: str
    origin: str  # "entered" or "import"
    day: str | None
    period: str
    timezone: str
    started: str | None  # UTC, as all instants here
    finished: str | None
    entered_at: str
    sealed_at: str
    site: str | None
    address: str | None
    state: str | None
    person: str | None
    person_name: str | None
    supervisor: str | None
    pesticide: bool  # whether any product is one in the eyes of the law
    incomplete: bool
    late_days: int
    packs: tuple[tuple[str, str], ...]  # id and version, as frozen
    findings: list[Json]
    late: Json | None
    deviation: Json | None
    sign_removal: str | None  # local
    follow_up: str | None
    equipment: tuple[str, ...] = ()  # ids or names, of its first treatments


class RemovedRow(NamedTuple):
    """What is left of a revision that was removed with its year."""

    order: int
    serial: str
    revision: int
    seal: str
    event: str  # serial of the sealed removal


@dataclass(frozen=True, slots=True)
class YearStubs:
    """What a sealed removal of a year has to say of it."""

    count: int  # revisions
    first_seal: str
    last_seal: str
    digest: str  # SHA-256, in hex, over the lines "order serial revision seal\n"

    def data(self, year: int) -> Json:
        """Return it as the event's data have it; why it may go stands beside it."""
        return {"year": year, **asdict(self)}


class UseRow(NamedTuple):
    """Sealed applications of a year (latest revisions, not voided), summed over one combination of all this."""

    product_id: str | None
    product_version: int | None
    product_name: str | None
    registration: str | None
    product_kind: str
    form: str
    restricted_use: bool
    site_kind: str | None
    county: str | None
    zip: str | None
    applicator_id: str | None
    applicator_name: str | None
    period: str  # "2026-05"
    amount_unit: str | None
    deviation: bool
    applications: int
    amount_nano: int  # sum of the amounts that are known, in 10^-9 of amount_unit
    area_nano: int  # sum of the areas that are known, in 10^-9 sq ft
    no_amount: int  # how many of them have no amount
    no_area: int  # how many of them have no area


class TargetRow(NamedTuple):
    """How often one target was treated in a year; an application against two targets counts under both."""

    target: str
    applications: int
    area_nano: int
    no_area: int


class ActiveRow(NamedTuple):
    """Active put out in a year with one product."""

    product_id: str | None
    product_name: str | None
    registration: str | None
    name: str
    basis: str
    pounds_nano: int  # sum of what is known, in 10^-9 lb
    unknown: int  # applications for which it cannot be worked out


class FlaggedRecord(NamedTuple):
    """A record of the year that a summary has to name."""

    serial: str
    deviation: bool
    incomplete: bool
    late_days: int


class SummaryRows(NamedTuple):
    """All that an annual summary is made from, read in one transaction."""

    uses: Sequence[UseRow]
    targets: Sequence[TargetRow]
    actives: Sequence[ActiveRow]
    flagged: Sequence[FlaggedRecord]  # deviations, incomplete and late ones, by serial
    records: int  # records of the year that stand (not voided)
    voided: int
    head: str  # the seal of the last sealed revision of the book


class Catalogue(Protocol):
    """Loaded documents, newest version first."""

    def latest(self, kind: str, key: str) -> CatalogueEntry | None:
        """Return the newest version of one document."""

    def version(self, kind: str, key: str, version: int) -> CatalogueEntry | None:
        """Return one version of one document."""

    def count(self) -> int:
        """Return how many versions there are of all documents together; none is ever taken away."""

    def every(self, kind: str, holding: str = "") -> list[CatalogueEntry]:
        """Return the newest version of every document of a kind, by id; with `holding` those with that text in them."""

    def add(self, kind: str, key: str, body: Json, loaded_at: datetime) -> int:
        """Store a new version unless the newest has the same body; return the version that holds the body."""


class Records(Protocol):
    """Sealed revisions and what is derived from them."""

    def head(self) -> str:
        """Return the seal of the last sealed revision; "" in an empty book."""

    def next_number(self, year: int) -> int:
        """Return the next free number of a year's serials."""

    def by_ref(self, ref: str) -> tuple[str, str] | None:
        """Return serial and document digest of the record with that reference."""

    def append(self, revision: StoredRevision) -> None:
        """Store a sealed revision with all that is derived from its body (`order` is ignored)."""

    def history(self, site: str, since: date | None) -> list[PastUse]:
        """Return the latest applications at a site from a day on, oldest first."""

    def recent_rates(self, product: str, method: str, limit: int) -> list[Fraction]:
        """Return the last amounts per sq ft (base unit of the product's kind) for a product and method."""

    def together(self, one: str, other: str) -> bool:
        """Tell whether two products stand in one treatment of a record that is not voided."""

    def revisions(self, serial: str) -> list[StoredRevision]:
        """Return all revisions of a record, oldest first; empty when there is none."""

    def search(self, criteria: Criteria) -> list[StoredRevision]:
        """Return the latest revision of each matching record, newest application first."""

    def walk(self) -> Iterator[StoredRevision]:
        """Yield every revision in the order of sealing, without holding them all in memory."""

    def last_visit(self, person: str, day: date) -> StoredRevision | None:
        """Return the person's last finished visit of a local day."""

    def on_site(self, site: str, day: date) -> list[tuple[str, str]]:
        """Return serial and applicator name of the visits at a site on a local day."""

    def summary(self, year: int) -> SummaryRows:
        """Return the sums of a year for its annual summary."""

    def years(self) -> list[int]:
        """Return the years that hold records, oldest first."""

    def next_event(self) -> int:
        """Return the next free number of the events' serials (`E-000001`)."""

    def events(
        self, kind: str | None = None, *, since: date | None = None, until: date | None = None, site: str | None = None
    ) -> list[StoredRevision]:
        """Return the sealed events of a kind, days and site (all of them where not given), by day, then order."""

    def matching(self, wanted: Packet) -> list[Match]:
        """Return the latest revision of each record asked for (voided ones too), by day, then order of sealing."""

    def bodies(self, orders: Sequence[int]) -> Iterator[StoredRevision]:
        """Yield revisions in the order given, reading a page at a time."""

    def all_revisions(self, serials: Sequence[str]) -> Iterator[StoredRevision]:
        """Yield every revision of each record, in the order given."""

    def outlines(self, since: date, until: date) -> Iterator[Outline]:
        """Yield the latest revision of each record of a span of days (voided ones too), by serial, without its body."""

    def event_moments(self, kind: str) -> dict[str, datetime]:
        """Return the serials of the records that events of a kind are about, with the moment of the first of each."""

    def removed(self) -> list[RemovedRow]:
        """Return what is left of removed revisions, in the order of sealing."""

    def stubs_of(self, year: int) -> YearStubs | None:
        """Return what a removal of that year has to seal; None when the year holds nothing."""

    def remove_year(self, year: int, event: StoredRevision) -> int:
        """Remove all records of a year, leaving stubs; return how many revisions went.

        The event is the removal sealed just before, in the same transaction; its data hold `stubs_of(year).data(year)`.
        """


class Held(Protocol):
    """Refused visits and what became of them."""

    def next_number(self) -> str:
        """Return the next free number, such as `H-000001`."""

    def add(
        self,
        number: str,
        kind: str,
        at: datetime,
        *,
        document: Json,
        findings: Iterable[Mapping[str, str]],
        ref: str | None,
        person: str | None,
        reason: str = "",
        serial: str | None = None,
    ) -> None:
        """Store an event: `held`, `corrected`, `sealed` or `dropped`."""

    def get(self, number: str) -> HeldEntry | None:
        """Return a held entry as it stands."""

    def by_ref(self, ref: str) -> HeldEntry | None:
        """Return the entry with that reference that is still held."""

    def open(self) -> list[HeldEntry]:
        """Return what is still held, oldest first."""


class UnitOfWork(Protocol):
    """One transaction over one book; left without `commit`, it leaves no trace."""

    catalogue: Catalogue
    records: Records
    held: Held

    @property
    def account(self) -> Account:
        """Return what sealed records say of loads, lots and amounts."""

    def __enter__(self) -> Self:
        """Begin; a writing unit of work takes the write lock at once."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Roll back what was not committed."""

    def commit(self) -> None:
        """Make everything since the beginning durable, at once."""


class OpenBook(Protocol):
    """Opens units of work on one book."""

    def write(self) -> UnitOfWork:
        """Return a unit of work that may write."""

    def read(self) -> UnitOfWork:
        """Return a unit of work that cannot write."""


class Renderer(Protocol):
    """Draws page models; the same model gives the same bytes."""

    def wording(self, language: str) -> Wording:
        """Return the firm's wording of the notice in a language."""

    def notice(self, model: NoticeModel, paper: str) -> bytes:
        """Return a customer notice as PDF, on `letter` or `a4` paper."""

    def summary(self, model: SummaryModel, paper: str) -> bytes:
        """Return an annual summary as PDF, on `letter` or `a4` paper."""
