"""Sealed revisions: appended whole, read back as sealed, and looked through for history."""

from __future__ import annotations

import json
from datetime import date
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import BigInteger, bindparam, cast, func, literal_column, select
from sqlalchemy.orm import aliased

from records.domain.quantities import Quantity
from records.errors import StorageError
from records.services.ports import PastUse, RemovedRow, StoredRevision
from records.services.sealing import canonical
from records.storage import removal, tables
from records.storage.functions import is_listed, position
from records.storage.link import EVENT, ONE, ZERO, Prepared
from records.storage.mapping import action_of, derive, nano
from records.storage.outlines import read_event_moments, read_outlines
from records.storage.packets import read_matches
from records.storage.search import events_statement, search_statement
from records.storage.summary import read_summary
from records.storage.tables import ActiveRow, ApplicationRow, RevisionRow, TargetRow, UseGroupRow, ZoneRow
from records.storage.types import NANO

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import datetime

    from sqlalchemy import ColumnElement

    from records.services.ports import Criteria, Match, Outline, Packet, SummaryRows, YearStubs
    from records.storage.link import Link

_PAGE = 200
_REMEMBERED = 8192  # groups of applications kept at hand during one unit of work
_R, _A, _Z, _X, _G = RevisionRow, ApplicationRow, ZoneRow, ActiveRow, UseGroupRow
_D = tables.RemovedRow
_later = aliased(_R)
_superseded = select(_later.id).where(_later.serial == _R.serial, _later.revision > _R.revision).exists()
_stands = (_R.action != literal_column("'voided'"), ~_superseded)
_STORED = (_R.id, _R.serial, _R.revision, _R.action, _R.sealed_at, _R.previous, _R.seal, _R.body)

_LAST = Prepared(lambda: select(_R.id, _R.seal).order_by(_R.id.desc()).limit(ONE).offset(ZERO))
_dash: ColumnElement[str] = literal_column("'-'")
# Numbers of removed records are never given again; what came into that year later has higher ones.
_LAST_NUMBER = Prepared(
    lambda: select(
        func.coalesce(
            select(func.max(_R.number)).where(_R.year == bindparam("year")).scalar_subquery(),
            select(func.max(cast(func.substr(_D.serial, position(_D.serial, _dash) + ONE), BigInteger)))
            .where(_D.serial.between(bindparam("first"), bindparam("last")))
            .scalar_subquery(),
            ZERO,
        )
    ),
    "year",
    "first",
    "last",
)
_LAST_APPLICATION = Prepared(lambda: select(func.coalesce(func.max(_A.id), ZERO)))
_LAST_GROUP = Prepared(lambda: select(func.coalesce(func.max(_G.id), ZERO)))
_GROUP = Prepared(
    lambda: select(_G.id).where(_G.period == bindparam("period"), _G.facts == bindparam("facts")), "period", "facts"
)
_BY_REF = Prepared(
    lambda: select(_R.serial, _R.document_digest).where(_R.revision == ONE, _R.ref == bindparam("ref")), "ref"
)
_REVISIONS = Prepared(lambda: select(*_STORED).where(_R.serial == bindparam("serial")).order_by(_R.revision), "serial")
_BODIES = Prepared(
    lambda: select(*_STORED).where(is_listed(_R.id, "orders")),
    "orders",
)
_WALK = Prepared(
    lambda: select(*_STORED).where(_R.id > bindparam("after")).order_by(_R.id).limit(bindparam("size")).offset(ZERO),
    "after",
    "size",
)
_YEARS = Prepared(lambda: select(_R.year).where(_R.year > ZERO).distinct().order_by(_R.year))
_REMOVED = Prepared(lambda: select(_D.id, _D.serial, _D.revision, _D.seal, _D.event_serial).order_by(_D.id))
_LAST_VISIT = Prepared(
    lambda: (
        select(*_STORED)
        .where(
            _R.applicator_id == bindparam("person"),
            _R.local_date == bindparam("day"),
            _R.finished_utc.is_not(None),
            _R.kind != EVENT,
            *_stands,
        )
        .order_by(_R.finished_utc.desc(), _R.id.desc())
        .limit(ONE)
        .offset(ZERO)
    ),
    "person",
    "day",
)
_ON_SITE = Prepared(
    lambda: (
        select(_R.serial, func.coalesce(_R.applicator_name, literal_column("''")))
        .where(_R.site_id == bindparam("site"), _R.local_date == bindparam("day"), _R.kind != EVENT, *_stands)
        .order_by(_R.id)
    ),
    "site",
    "day",
)
# The past of a site in two parts, put together by `history`: joined into one, each zone would repeat each active.
_at_site = (_Z.site_id == bindparam("site"), _Z.local_date >= bindparam("since"))
_PAST = Prepared(
    lambda: (
        select(
            _A.id,
            _R.serial,
            _Z.local_date,
            _A.treatment,
            _Z.zone_id,
            _A.product_id,
            _A.registration,
            _A.method,
            _A.amount,
            _A.least_nano,
            _A.area_nano,
            _Z.treated_nano,
        )
        .join(_A, _A.id == _Z.application_id)
        .join(_R, _R.id == _A.revision_id)
        .where(*_at_site, *_stands)
        .order_by(_Z.local_date, _A.id, _Z.position)
    ),
    "site",
    "since",
)
_PAST_ACTIVES = Prepared(
    lambda: (
        select(_X.application_id, _X.name, _X.basis, _X.pounds_nano)
        .where(_X.application_id.in_(select(_Z.application_id).where(*_at_site)))
        .order_by(_X.application_id, _X.position)
    ),
    "site",
    "since",
)
_RECENT = Prepared(
    lambda: (
        select(_A.amount, _A.area_nano)
        .join(_R, _R.id == _A.revision_id)
        .where(
            _A.product_id == bindparam("product"),
            _A.method == bindparam("method"),
            _A.amount.is_not(None),
            _A.area_nano > ZERO,
            *_stands,
        )
        .order_by(_A.id.desc())
        .limit(bindparam("size"))
        .offset(ZERO)
    ),
    "product",
    "method",
    "size",
)
_B = aliased(_A)
_TOGETHER = Prepared(
    lambda: (
        select(_A.id)
        .where(
            _A.product_id == bindparam("one"),
            # Asked before the revision is read: most treatments have one product
            select(_B.id)
            .where(
                _B.revision_id == _A.revision_id,
                _B.treatment == _A.treatment,
                _B.line != _A.line,  # the index alone tells that it is another one
                _B.product_id == bindparam("other"),
            )
            .exists(),
            select(_R.id).where(_R.id == _A.revision_id, *_stands).exists(),
        )
        .limit(ONE)
        .offset(ZERO)
    ),
    "one",
    "other",
)


@lru_cache(maxsize=16384)
def _fraction(nano: int | None) -> Fraction | None:
    return None if nano is None else Fraction(nano, NANO)


@lru_cache(maxsize=16384)
def _quantity(text: str | None, least: int | None = None) -> Quantity | None:
    """Read an amount as bodies hold it: a plain decimal, a blank, a unit's symbol; and the least that reads so.

    Where the body does not say (imports), half a step of the written number is its reading.
    """
    if text is None:
        return None
    number, _, unit = text.partition(" ")
    value = Fraction(nano(number), NANO)
    half = Fraction(1, 2 * 10 ** len(number.partition(".")[2])) if least is None else value - Fraction(least, NANO)
    return Quantity(value, unit, max(half, Fraction(0)), number)


@lru_cache(maxsize=16384)
def _per_square_foot(amount: str, area_nano: int) -> Fraction:
    quantity = _quantity(amount)
    assert quantity is not None  # noqa: S101 - the amount is a text
    return quantity.base * NANO / area_nano


def _has_kind(amount: str) -> bool:
    """Return whether an amount says what it measures, which a bare ounce does not."""
    return not amount.endswith(" oz") or amount.endswith(" fl oz")


_day = lru_cache(maxsize=4096)(date.fromisoformat)


def stored(row: tuple[Any, ...]) -> StoredRevision:
    """Return a stored revision with its body read."""
    order, serial, revision, action, sealed_at, previous, seal, body = row
    return StoredRevision(order, serial, revision, action, sealed_at, previous, seal, json.loads(body), body)


class SqlRecords:
    """Sealed revisions of one book, within one transaction."""

    def __init__(self, link: Link, *, writing: bool) -> None:
        """Work on one transaction.

        Args:
            link: its connection.
            writing: whether it holds the write lock, so that no one else can append meanwhile.
        """
        self._link = link
        self._writing = writing
        self._tip: tuple[int, str] | None = None  # order and seal of the last revision
        self._numbers: dict[int, int] = {}  # last number of a year
        self._groups: dict[tuple[str, str], int] = {}
        self._last_group: int | None = None
        self._application: int | None = None  # number of the last application

    def _last(self) -> tuple[int, str]:
        if self._tip is None or not self._writing:
            self._tip = self._link.row(_LAST) or (0, "")
        return self._tip

    def head(self) -> str:
        """Return the seal of the last sealed revision; "" in an empty book."""
        return self._last()[1]

    def next_number(self, year: int) -> int:
        """Return the next free number of a year's serials."""
        if year not in self._numbers or not self._writing:
            self._numbers[year] = int(self._link.row(_LAST_NUMBER, year, f"{year}-", f"{year}-~")[0])
        return self._numbers[year] + 1

    def by_ref(self, ref: str) -> tuple[str, str] | None:
        """Return serial and document digest of the record with that reference."""
        row = self._link.row(_BY_REF, ref)
        return None if row is None else (row[0], row[1])

    def _group(self, period: str, facts: str) -> int:
        """Return the number of a group of applications, made when it is new."""
        known = self._groups.get((period, facts))
        if known is None:
            found = self._link.row(_GROUP, period, facts)
            if found is None:
                if self._last_group is None:
                    self._last_group = int(self._link.row(_LAST_GROUP)[0])
                self._last_group += 1
                found = (self._last_group,)
                self._link.add(UseGroupRow, [(*found, period, facts)])
            if len(self._groups) >= _REMEMBERED:
                self._groups.clear()
            known = self._groups[period, facts] = int(found[0])
        return known

    def append(self, revision: StoredRevision) -> None:
        """Store a sealed revision with all that is derived from its body (`order` is ignored).

        Raises:
            StorageError: it does not follow the last seal, or the book refused it.
            InputError: its body holds something that cannot be kept.
        """
        order, head = self._last()
        if revision.previous != head:
            raise StorageError(f"{revision.serial} does not follow the last seal of the book", "Seal it again")
        if revision.action != action_of(revision.revision, revision.body):
            raise StorageError(
                f"{revision.serial} is called {revision.action}, but its body says otherwise", "Seal it again"
            )
        if self._application is None:
            self._application = int(self._link.row(_LAST_APPLICATION)[0])
        rows = derive(revision, order + 1, revision.text or canonical(revision.body).decode(), self._application + 1)
        numbers = [self._group(*group) for group in rows.groups]
        self._link.add(RevisionRow, [rows.revision])
        self._link.add(ApplicationRow, [(*row, number) for row, number in zip(rows.applications, numbers, strict=True)])
        self._link.add(TargetRow, rows.targets)
        self._link.add(ActiveRow, rows.actives)
        self._link.add(ZoneRow, rows.zones)
        self._tip = (order + 1, revision.seal)
        self._application += len(rows.applications)
        year, number = rows.revision[3:5]
        self._numbers[year] = max(number, self._numbers.get(year, self.next_number(year) - 1))

    def pass_over(self, order: int, seal: str) -> None:
        """Let the next revision follow one of which only a stub is left.

        Raises:
            StorageError: another place in the order of sealing is the next one.
        """
        last, _ = self._last()
        if order != last + 1:
            raise StorageError(f"the next place in the order of sealing is {last + 1}, not {order}", "")
        self._tip = (order, seal)

    def history(self, site: str, since: date | None) -> list[PastUse]:
        """Return the latest applications at a site from a day on, oldest first."""
        span = site, since.isoformat() if since else ""
        past = self._link.rows(_PAST, *span)
        if not past:
            return []
        actives: dict[int, list[tuple[str, str, Fraction | None]]] = {}
        for number, name, basis, pounds in self._link.rows(_PAST_ACTIVES, *span):
            actives.setdefault(number, []).append((name, basis or "", _fraction(pounds)))
        return [
            PastUse(
                serial,
                _day(day),
                treatment,
                zone,
                product or "",
                registration or "",
                method or "",
                _quantity(amount, least),
                _fraction(area),
                _fraction(treated),
                tuple(actives.get(key, ())),
            )
            for key, serial, day, treatment, zone, product, registration, method, amount, least, area, treated in past
        ]

    def recent_rates(self, product: str, method: str, limit: int) -> list[Fraction]:
        """Return the last amounts per sq ft (base unit of the product's kind), oldest first."""
        rows = self._link.rows(_RECENT, product, method, limit)
        return [_per_square_foot(amount, area) for amount, area in reversed(rows) if _has_kind(amount)]

    def together(self, one: str, other: str) -> bool:
        """Tell whether two products stand in one treatment of a record that is not voided."""
        return self._link.row(_TOGETHER, one, other) is not None

    def revisions(self, serial: str) -> list[StoredRevision]:
        """Return all revisions of a record, oldest first; empty when there is none."""
        return [stored(row) for row in self._link.rows(_REVISIONS, serial)]

    def search(self, criteria: Criteria) -> list[StoredRevision]:
        """Return the latest revision of each matching record, newest application first."""
        return [stored(tuple(row)) for row in self._link.select(search_statement(criteria, _STORED))]

    def walk(self) -> Iterator[StoredRevision]:
        """Yield every revision in the order of sealing, without holding them all in memory."""
        after = 0
        while rows := self._link.rows(_WALK, after, _PAGE):
            yield from map(stored, rows)
            after = rows[-1][0]

    def last_visit(self, person: str, day: date) -> StoredRevision | None:
        """Return the person's last finished visit of a local day."""
        row = self._link.row(_LAST_VISIT, person, day.isoformat())
        return None if row is None else stored(row)

    def on_site(self, site: str, day: date) -> list[tuple[str, str]]:
        """Return serial and applicator name of the visits at a site on a local day."""
        return [(serial, name) for serial, name in self._link.rows(_ON_SITE, site, day.isoformat())]

    def years(self) -> list[int]:
        """Return the years that hold records, oldest first."""
        return [year for (year,) in self._link.rows(_YEARS)]

    def summary(self, year: int) -> SummaryRows:
        """Return a year's totals over the latest revisions, grouped for the annual summary."""
        return read_summary(self._link, year, self.head())

    def next_event(self) -> int:
        """Return the next free number of the events' serials."""
        return self.next_number(0)

    def events(
        self, kind: str | None = None, *, since: date | None = None, until: date | None = None, site: str | None = None
    ) -> list[StoredRevision]:
        """Return the sealed events of a kind, days and site (all of them where not given), by day, then order."""
        return [stored(tuple(row)) for row in self._link.select(events_statement(_STORED, kind, since, until, site))]

    def matching(self, wanted: Packet) -> list[Match]:
        """Return the latest revision of each record asked for (voided ones too), by day, then order of sealing."""
        return read_matches(self._link, wanted)

    def bodies(self, orders: Sequence[int]) -> Iterator[StoredRevision]:
        """Yield revisions in the order given, reading a page at a time; what is not there is passed over."""
        for start in range(0, len(orders), _PAGE):
            page = orders[start : start + _PAGE]
            found = {row[0]: row for row in self._link.rows(_BODIES, json.dumps(list(page)))}
            yield from (stored(found[order]) for order in page if order in found)

    def all_revisions(self, serials: Sequence[str]) -> Iterator[StoredRevision]:
        """Yield every revision of each record, in the order given."""
        for serial in serials:
            yield from self.revisions(serial)

    def outlines(self, since: date, until: date) -> Iterator[Outline]:
        """Yield the latest revision of each record of a span of days (voided ones too), by serial, without its body."""
        return read_outlines(self._link, since, until)

    def event_moments(self, kind: str) -> dict[str, datetime]:
        """Return the serials of the records that events of a kind are about, with the moment of the first of each."""
        return read_event_moments(self._link, kind)

    def removed(self) -> list[RemovedRow]:
        """Return what is left of removed revisions, in the order of sealing."""
        return [RemovedRow._make(row) for row in self._link.rows(_REMOVED)]

    def stubs_of(self, year: int) -> YearStubs | None:
        """Return what a removal of that year has to seal; None when the year holds nothing."""
        return removal.stubs_of(self._link, year)

    def remove_year(self, year: int, event: StoredRevision) -> int:
        """Remove all records of a year, leaving stubs; return how many revisions went.

        Raises:
            StorageError: the event is not the one sealed last, or does not say what `stubs_of` said.
        """
        if event.seal != self.head():
            raise StorageError(f"{event.serial} is not the last seal of the book", "Seal the removal again")
        count = removal.remove_year(self._link, year, event)
        self._numbers.clear()
        self._groups.clear()
        self._last_group = self._application = None
        return count
