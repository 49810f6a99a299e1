"""Finds the records that an inspection asks for, through the indexes, never reading a body.

A book of a million applications has to answer at once. Products are looked for among the groups of applications
(`use_group`), whose facts name them, and from there by number; everything else goes by serial, place or person. The
most telling of these leads, the others are conditions on what it finds.
"""

from __future__ import annotations

import gc
import json
from contextlib import contextmanager
from itertools import chain
from typing import TYPE_CHECKING

from sqlalchemy import bindparam, func, literal_column, or_, select, text
from sqlalchemy.orm import aliased

from records.services.ports import Match
from records.storage.functions import casefold, is_listed, part, position
from records.storage.link import EVENT, ONE, Prepared
from records.storage.products import wanted_revisions
from records.storage.tables import CatalogueRow, RevisionRow

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from sqlalchemy import ColumnElement

    from records.services.ports import Packet
    from records.storage.link import Link

_R, _C = RevisionRow, CatalogueRow
_LAST = "~"  # stands after every day and month
_later, _prior = aliased(_R, name="later"), aliased(_R, name="prior")
_import: ColumnElement[str] = literal_column("'import'")
_first_event: ColumnElement[str] = literal_column("'E'")  # every number of a record stands before it
_site: ColumnElement[str] = literal_column("'site'")
_customer: ColumnElement[str] = literal_column("'customer'")
_month_end: ColumnElement[str] = literal_column("'-99'")
# A match, after what it is sorted by: a record without a day stands at the end of its month
_FOUND = (func.coalesce(_R.local_date, _R.period + _month_end), _R.id, _R.serial, _R.local_date, _R.revision)
_WHOSE = (_R.site_id, _R.customer_id, _R.customer_name, _R.applicator_id, _R.applicator_name)
Found = tuple[str, int, str, str | None, int]  # what it is sorted by, then the fields of a match
_STALE = Prepared(
    lambda: (
        select(_prior.id)
        .join(_later, (_later.serial == _prior.serial) & (_later.revision > _prior.revision))
        .where(text("later.revision > 1"))
    )
)
_FIRST_PERSON = Prepared(lambda: select(func.min(_R.applicator_id)))
_NEXT_PERSON = Prepared(
    lambda: select(func.min(_R.applicator_id)).where(_R.applicator_id > bindparam("after")), "after"
)
_named = position(casefold(_R.applicator_name), bindparam("name")) >= ONE
_days_of = select(_R.local_date, _R.id, _R.serial, _R.local_date, _R.revision).where(
    _R.applicator_id.is_not_distinct_from(bindparam("person")),
    _R.local_date >= bindparam("since"),
    _R.local_date <= bindparam("until"),
    _R.serial < _first_event,  # not by its kind, which the index does not hold
)
_months_of = select(*_FOUND).where(
    _R.applicator_id.is_not_distinct_from(bindparam("person")),
    _R.local_date.is_(None),
    _R.period >= bindparam("since"),
    _R.period <= bindparam("until"),
)
_SPAN = ("person", "since", "until")
_DAYS, _MONTHS = Prepared(lambda: _days_of, *_SPAN), Prepared(lambda: _months_of, *_SPAN)
_NAMED_DAYS = Prepared(lambda: _days_of.where(_named), *_SPAN, "name")
_NAMED_MONTHS = Prepared(lambda: _months_of.where(_named), *_SPAN, "name")
_customers_named = select(_C.id).where(
    _C.kind == _customer,
    or_(_C.id == bindparam("id"), position(casefold(part(_C.body, "name")), bindparam("name")) >= ONE),
)
_SITES_OF = Prepared(
    lambda: select(_C.id).where(_C.kind == _site, part(_C.body, "customer").in_(_customers_named)).distinct(),
    "id",
    "name",
)
_IMPORTED_CUSTOMERS = Prepared(lambda: select(_R.customer_id, _R.customer_name).where(_R.origin == _import).distinct())
_IMPORTED = Prepared(
    lambda: select(_R.id).where(
        _R.origin == _import,
        _R.customer_id.is_not_distinct_from(bindparam("id")),
        _R.customer_name.is_not_distinct_from(bindparam("name")),
    ),
    "id",
    "name",
)


class _Lead:
    """What leads to records through an index; with the columns that tell whose they are only where that is asked."""

    def __init__(self, condition: ColumnElement[bool]) -> None:
        """Name the condition, with one parameter `lead`."""
        names = ("lead", "since", "until", "first", "last")
        statement = select(*_FOUND).where(
            condition,
            _R.kind != EVENT,
            or_(
                _R.local_date.between(bindparam("since"), bindparam("until")),
                _R.local_date.is_(None) & _R.period.between(bindparam("first"), bindparam("last")),
            ),
        )
        self._bare = Prepared(lambda: statement, *names)
        self._whole = Prepared(lambda: statement.add_columns(*_WHOSE), *names)

    def rows(self, link: Link, wanted: Packet, lead: str) -> Iterable[Found]:
        """Return what it leads to, as far as that meets all conditions that a row can tell."""
        values = (lead, *_days(wanted), *_months(wanted))
        if wanted.customer is None and wanted.person is None and not wanted.sites:
            return link.rows(self._bare, *values)
        return [row[:5] for row in link.rows(self._whole, *values) if _fits(wanted, *row[5:])]


_BY_SERIAL = _Lead(_R.serial == bindparam("lead"))
_BY_SITE = _Lead(_R.site_id == bindparam("lead"))
_BY_NUMBERS = _Lead(is_listed(_R.id, "lead"))


def read_matches(link: Link, wanted: Packet) -> list[Match]:
    """Return the latest revision of each record that a packet asks for, by day, then order of sealing.

    Args:
        link: an open transaction.
        wanted: every given part has to match; product, registration and active within one application.
    """
    numbers: set[int] | None = None
    if wanted.product is not None or wanted.registration is not None or wanted.active is not None:
        numbers = wanted_revisions(link, wanted, _months(wanted))
    rows: Iterable[Found]
    if wanted.serials:
        rows = _by_each(link, wanted, _BY_SERIAL, wanted.serials)
    elif wanted.sites:
        rows = _by_each(link, wanted, _BY_SITE, wanted.sites)
    elif wanted.customer is not None:
        rows = _by_customer(link, wanted, wanted.customer)
    elif numbers is not None:
        rows = _BY_NUMBERS.rows(link, wanted, json.dumps(sorted(numbers)))
    else:
        rows = _by_person(link, wanted)
    stale = {order for (order,) in link.rows(_STALE)}
    with _no_collector():
        found = [row for row in rows if row[1] not in stale and (numbers is None or row[1] in numbers)]
        found.sort()
        return [Match._make(row[1:]) for row in found]


@contextmanager
def _no_collector() -> Iterator[None]:
    """Keep the garbage collector away while a long list is made: it would walk through all of it again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _days(wanted: Packet) -> tuple[str, str]:
    return (
        "" if wanted.since is None else wanted.since.isoformat(),
        _LAST if wanted.until is None else wanted.until.isoformat(),
    )


def _months(wanted: Packet) -> tuple[str, str]:
    since, until = _days(wanted)
    return since[:7], until[:7]


def _fits(
    wanted: Packet,
    site: str | None,
    customer: str | None,
    customer_name: str | None,
    person: str | None,
    person_name: str | None,
) -> bool:
    """Tell whether a record is of the places and people asked for."""
    return (
        (not wanted.sites or site in wanted.sites)
        and (wanted.customer is None or _is(wanted.customer, customer, customer_name))
        and (wanted.person is None or _is(wanted.person, person, person_name))
    )


def _is(asked: str, key: str | None, name: str | None) -> bool:
    return asked == key or (name is not None and asked.casefold() in name.casefold())


def _by_each(link: Link, wanted: Packet, lead: _Lead, texts: Iterable[str]) -> Iterator[Found]:
    return chain.from_iterable(lead.rows(link, wanted, text) for text in sorted(texts))


def _by_customer(link: Link, wanted: Packet, customer: str) -> Iterator[Found]:
    """Yield the records of a customer's places, and those imported with such a customer, whose places may be unknown.

    A visit's customer is that of its site in some version of it, and the catalogue keeps them all.
    """
    imported = {
        number
        for key, name in link.rows(_IMPORTED_CUSTOMERS)
        if _is(customer, key, name)
        for (number,) in link.rows(_IMPORTED, key, name)
    }
    yield from _BY_NUMBERS.rows(link, wanted, json.dumps(sorted(imported)))
    sites = [site for (site,) in link.rows(_SITES_OF, customer, customer.casefold())]
    yield from (row for row in _by_each(link, wanted, _BY_SITE, sites) if row[1] not in imported)


def _by_person(link: Link, wanted: Packet) -> Iterator[Found]:
    """Yield the records of a span of days, person by person, since days alone have no index."""
    days, months = _days(wanted), _months(wanted)
    for person in _persons(link):
        if wanted.person is None or wanted.person == person:
            yield from link.rows(_DAYS, person, *days)
            yield from link.rows(_MONTHS, person, *months)
        elif person is not None:
            name = wanted.person.casefold()
            yield from link.rows(_NAMED_DAYS, person, *days, name)
            yield from link.rows(_NAMED_MONTHS, person, *months, name)


def _persons(link: Link) -> Iterator[str | None]:
    """Yield whoever did any of it; None: nobody knows."""
    yield None
    (person,) = link.row(_FIRST_PERSON)
    while person is not None:
        yield person
        (person,) = link.row(_NEXT_PERSON, person)
