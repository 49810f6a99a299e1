"""Builds the statements behind `find`, the latest revision of each record that matches every part, and `events`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import func, or_, select
from sqlalchemy.orm import aliased

from records.storage.functions import casefold
from records.storage.link import EVENT
from records.storage.tables import ActiveRow, ApplicationRow, RevisionRow, TargetRow

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from sqlalchemy import ColumnElement, Select

    from records.services.ports import Criteria

_R, _A = RevisionRow, ApplicationRow


def _has(column: Any, text: str) -> ColumnElement[bool]:  # noqa: ANN401 - a mapped column of any row
    """Return the condition that a column contains a text, in whatever case."""
    return casefold(column).contains(text.casefold(), autoescape=True)


def _is(column: Any, text: str) -> ColumnElement[bool]:  # noqa: ANN401 - a mapped column of any row
    return casefold(column) == text.casefold()


def _names(column: Any, text: str) -> ColumnElement[bool]:  # noqa: ANN401 - a mapped column of any row
    """Return the condition that a column is a text, or a list with commas that holds it, in whatever case."""
    wanted = text.strip().casefold()
    lists = func.replace(func.replace("," + casefold(column) + ",", ", ", ","), " ,", ",")
    return lists.contains(f",{wanted},", autoescape=True)


def _conditions(criteria: Criteria) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if criteria.site is not None:
        found.append(or_(_R.site_id == criteria.site, _has(_R.address, criteria.site)))
    if criteria.customer is not None:
        found.append(or_(_R.customer_id == criteria.customer, _has(_R.customer_name, criteria.customer)))
    if criteria.person is not None:
        found.append(or_(_R.applicator_id == criteria.person, _has(_R.applicator_name, criteria.person)))
    if criteria.since is not None:
        found.append(_R.local_date >= criteria.since.isoformat())
    if criteria.until is not None:
        found.append(_R.local_date <= criteria.until.isoformat())
    if criteria.deviation is not None:
        found.append(_R.deviation == int(criteria.deviation))
    if criteria.incomplete is not None:
        found.append(_R.incomplete == int(criteria.incomplete))
    return found


def _of_applications(criteria: Criteria) -> list[ColumnElement[bool]]:
    """Return the conditions that one and the same application has to meet."""
    found: list[ColumnElement[bool]] = []
    if criteria.product is not None:
        wanted = criteria.product
        numbers = (_is(_A.registration, wanted), _is(_A.federal, wanted))
        found.append(or_(_A.product_id == wanted, *numbers, _has(_A.product_name, wanted)))
    if criteria.active is not None:
        found.append(
            select(ActiveRow.position)
            .where(ActiveRow.application_id == _A.id, _has(ActiveRow.name, criteria.active))
            .exists()
        )
    if criteria.target is not None:
        found.append(
            select(TargetRow.target)
            .where(TargetRow.application_id == _A.id, _has(TargetRow.target, criteria.target))
            .exists()
        )
    if criteria.lot is not None:
        found.append(_names(_A.lot, criteria.lot))
    return found


def search_statement(criteria: Criteria, columns: Sequence[Any]) -> Select[Any]:
    """Return the statement for some criteria.

    Args:
        criteria: every given part has to match; product, active, target and lot within one application.
        columns: of `revision` to select.
    """
    later = aliased(_R)
    superseded = select(later.id).where(later.serial == _R.serial, later.revision > _R.revision).exists()
    statement = select(*columns).where(_R.kind != EVENT, ~superseded, *_conditions(criteria))
    applications = _of_applications(criteria)
    if applications:
        statement = statement.where(select(_A.id).where(_A.revision_id == _R.id, *applications).exists())
    # A record without a day stands at the end of its period.
    statement = statement.order_by(func.coalesce(_R.local_date, _R.period + "-99").desc(), _R.id.desc())
    return statement if criteria.limit is None else statement.limit(criteria.limit)


def events_statement(
    columns: Sequence[Any], kind: str | None, since: date | None, until: date | None, site: str | None
) -> Select[Any]:
    """Return the statement for the sealed events of a kind, days and site; None: any."""
    statement = select(*columns).where(_R.kind == EVENT)
    for column, wanted in ((_R.origin, kind), (_R.site_id, site)):
        if wanted is not None:
            statement = statement.where(column == wanted)
    if since is not None:
        statement = statement.where(_R.local_date >= since.isoformat())
    if until is not None:
        statement = statement.where(_R.local_date <= until.isoformat())
    return statement.order_by(_R.local_date, _R.id)
