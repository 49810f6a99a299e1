"""The yearly totals over the latest revisions, summed by the database and named from the groups' facts.

Sums are of whole billionths and exact. SQLite refuses a sum beyond 2^63 (about 9.2 thousand million units, or 211
thousand acres, in one group) rather than rounding it; the reader is then told to look for an amount far too large.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, bindparam, func, literal_column, select, text
from sqlalchemy.orm import aliased

from records.services.ports import ActiveRow, FlaggedRecord, SummaryRows, TargetRow, UseRow
from records.storage import tables
from records.storage.link import ONE, ZERO, Link, Prepared

if TYPE_CHECKING:
    from collections.abc import Iterable

_A, _R, _X, _G = tables.ApplicationRow, tables.RevisionRow, tables.ActiveRow, tables.UseGroupRow
_KEYS = 15  # facts that tell groups of a summary apart; the list of targets follows them
_later = aliased(_R, name="later")
_prior = aliased(_R, name="prior")
_VOIDED: ColumnElement[str] = literal_column("'voided'")
_is_later = text("later.revision > 1")
# Few records are ever amended: the exceptions are listed once (through the index on later revisions) instead of
# asking for each application whether something newer stands.
_stale = (
    select(_prior.id)
    .join(_later, (_later.serial == _prior.serial) & (_later.revision > _prior.revision))
    .where(_is_later)
    .union_all(select(_later.id).where(_is_later, _later.action == _VOIDED))
)
_of_year = (
    _G.period >= bindparam("first"),
    _G.period <= bindparam("last"),
    _A.revision_id.not_in(_stale.scalar_subquery()),
)


def _sum(column: Any) -> ColumnElement[int]:  # noqa: ANN401 - a mapped column of any row
    """Return the sum of what is known; 0 when nothing is."""
    return func.coalesce(func.sum(column), ZERO)


def _unknown(column: Any) -> ColumnElement[int]:  # noqa: ANN401 - a mapped column of any row
    """Return how many applications lack it: one row of a month's total stands for several."""
    return func.coalesce(func.sum(_A.uses).filter(column.is_(None)), ZERO)


_GROUPS = Prepared(
    lambda: (
        select(
            _G.facts,
            _sum(_A.uses),
            _sum(_A.amount_nano),
            _sum(_A.area_nano),
            _unknown(_A.amount_nano),
            _unknown(_A.area_nano),
        )
        .join(_A, _A.use_group_id == _G.id)
        .where(*_of_year)
        .group_by(_G.id)
    ),
    "first",
    "last",
)
_ACTIVES = Prepared(
    lambda: (
        select(
            _G.facts,
            _X.name,
            func.coalesce(_X.basis, literal_column("''")),
            _sum(_X.pounds_nano),
            _unknown(_X.pounds_nano),
        )
        .join(_A, _A.use_group_id == _G.id)
        .join(_X, _X.application_id == _A.id)
        .where(*_of_year)
        .group_by(_G.id, _X.name, _X.basis)
    ),
    "first",
    "last",
)
_latest = ~select(_later.id).where(_later.serial == _R.serial, _later.revision > _R.revision).exists()
_RECORDS = Prepared(
    lambda: select(func.count()).where(_R.year == bindparam("year"), _R.year > ZERO, _R.revision == ONE),
    "year",
)
_VOIDS = Prepared(
    lambda: select(func.count()).where(
        text("revision.revision > 1"),
        _R.action == _VOIDED,
        _R.serial.between(bindparam("first"), bindparam("last")),
        _latest,
    ),
    "first",
    "last",
)
_FLAGGED = Prepared(
    lambda: (
        select(_R.serial, _R.deviation, _R.incomplete, _R.late_days)
        .where(_R.year == bindparam("year"), text(f"({tables.FLAGGED})"), _R.action != _VOIDED, _latest)
        .order_by(_R.number)
    ),
    "year",
)


def _merged(rows: Iterable[tuple[tuple[Any, ...], tuple[int, ...]]]) -> dict[tuple[Any, ...], list[int]]:
    """Add up rows of numbers that have the same key, keeping the order of first appearance."""
    totals: dict[tuple[Any, ...], list[int]] = {}
    for key, numbers in rows:
        found = totals.get(key)
        if found is None:
            totals[key] = list(numbers)
        else:
            for place, number in enumerate(numbers):
                found[place] += number
    return totals


def _use(key: tuple[Any, ...], numbers: list[int]) -> UseRow:
    return UseRow._make((*key[:4], key[4] or "", key[5] or "", *key[6:], *numbers))


def read_summary(link: Link, year: int, head: str) -> SummaryRows:
    """Return a year's totals over the latest revisions.

    Args:
        link: an open transaction.
        year: of the periods.
        head: seal of the last revision of the book.
    """
    span = f"{year:04d}-01", f"{year:04d}-12"
    rows = link.rows(_GROUPS, *span)
    known = {facts: json.loads(facts) for facts, *_ in rows}
    groups = [(known[facts], numbers) for facts, *numbers in rows]
    uses = _merged((tuple(facts[:_KEYS]), tuple(numbers)) for facts, numbers in groups)
    by_target = _merged(
        ((target,), (numbers[0], numbers[2], numbers[4])) for facts, numbers in groups for target in facts[_KEYS]
    )
    actives = _merged(
        ((*_product(known[facts]), name, basis), tuple(numbers))
        for facts, name, basis, *numbers in link.rows(_ACTIVES, *span)
    )
    voided = link.row(_VOIDS, f"{year:04d}-", f"{year:04d}-~")[0]
    return SummaryRows(
        uses=[_use(key, numbers) for key, numbers in uses.items()],
        targets=[TargetRow(*key, *numbers) for key, numbers in by_target.items()],
        actives=[ActiveRow(*key, *numbers) for key, numbers in actives.items()],
        flagged=[
            FlaggedRecord(serial, deviation == 1, incomplete == 1, late_days)
            for serial, deviation, incomplete, late_days in link.rows(_FLAGGED, year)
        ],
        records=link.row(_RECORDS, year)[0] - voided,
        voided=voided,
        head=head,
    )


def _product(facts: list[Any]) -> tuple[Any, ...]:
    """Return product, name and registration number out of a group's facts."""
    return facts[0], facts[2], facts[3]
