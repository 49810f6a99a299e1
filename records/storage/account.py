"""What sealed records say of loads, lots and amounts: each asked for in one statement over the applications."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, bindparam, case, func, literal_column, null, select, text
from sqlalchemy.orm import aliased

from records.services.account_ports import Laid, LotUse, MixSum, MixUse, Spent, Used
from records.storage.link import ZERO, Prepared
from records.storage.tables import ApplicationRow, RevisionRow

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlalchemy import Select

    from records.storage.link import Link

_R, _A = RevisionRow, ApplicationRow
_later, _prior = aliased(_R, name="later"), aliased(_R, name="prior")
_VOIDED: ColumnElement[str] = literal_column("'voided'")
_is_later = text("later.revision > 1")
# Few records are ever amended: what no longer stands is listed once, not asked for with each application.
_stale = (
    select(_prior.id)
    .join(_later, (_later.serial == _prior.serial) & (_later.revision > _prior.revision))
    .where(_is_later)
    .union_all(select(_later.id).where(_is_later, _later.action == _VOIDED))
)
_stands = _A.revision_id.not_in(_stale.scalar_subquery())
_superseded = select(_later.id).where(_later.serial == _R.serial, _later.revision > _R.revision).exists()
_first_day: ColumnElement[str] = literal_column("'-01'")
_day = func.coalesce(_R.local_date, _R.period)
_within = func.coalesce(_R.local_date, _R.period + _first_day)  # a month's total counts as of its first day


def _sum(column: Any) -> ColumnElement[int]:  # noqa: ANN401 - a mapped column of any row
    return func.coalesce(func.sum(column), ZERO)


def _unknown(column: Any) -> ColumnElement[int]:  # noqa: ANN401 - a mapped column of any row
    return func.coalesce(func.sum(_A.uses).filter(column.is_(None)), ZERO)


_OF_MIX = Prepared(
    lambda: (
        select(
            _A.mix_id,
            _R.id,
            _R.serial,
            _R.started_utc,
            _R.local_date,
            _R.site_id,
            _R.address,
            _A.treatment,
            _A.line,
            _A.product_id,
            _A.lot,
            _A.amount,
        )
        .join(_R, _R.id == _A.revision_id)
        .where(_A.mix_id == bindparam("mix"), _R.action != _VOIDED, ~_superseded)
        .order_by(_R.started_utc, _R.id, _A.treatment, _A.line)
    ),
    "mix",
)
_MIX_SUMS = Prepared(
    lambda: (
        select(_A.mix_id, _A.product_id, _A.amount_unit, func.count(), _sum(_A.amount_nano))
        .where(_A.mix_id.is_not(None), _stands)
        .group_by(_A.mix_id, _A.product_id, _A.amount_unit)
    )
)
_nameless = case((_A.product_id.is_(None), _A.product_name))
_BY = (_A.product_id, _A.registration, _nameless, _A.lot, _A.label_revision, _A.amount_unit)
_used = select(*_BY, func.min(_A.revision_id), _sum(_A.uses), _sum(_A.amount_nano), _unknown(_A.amount_nano)).where(
    _stands
)
_USED = Prepared(lambda: _used.group_by(*_BY))
_USED_OF = Prepared(lambda: _used.where(_A.product_id == bindparam("product")).group_by(*_BY), "product")
_LOT_USES = Prepared(
    lambda: (
        select(
            _R.serial,
            _R.started_utc,
            _day,
            _A.treatment,
            _A.line,
            _A.product_id,
            _A.lot,
            _A.amount_unit,
            _A.uses,
            func.coalesce(_A.amount_nano, ZERO),
            _R.site_id,
            _A.mix_id,
        )
        .join(_R, _R.id == _A.revision_id)
        .where(_A.product_id == bindparam("product"), _within >= bindparam("since"), _stands)
        .order_by(_within, func.coalesce(_R.started_utc, _R.period), _R.id, _A.treatment, _A.line)
    ),
    "product",
    "since",
)


_SERIAL = Prepared(lambda: select(_R.serial).where(_R.id == bindparam("order")), "order")
_KEYS: dict[str, Any] = {"product": _A.product_id, "site": _R.site_id, "month": _R.period}
_ADDRESSES = Prepared(
    lambda: (
        select(_R.site_id, func.coalesce(func.max(_R.address), literal_column("''")))
        .where(_within >= bindparam("since"), _within <= bindparam("until"), _R.site_id.is_not(None))
        .group_by(_R.site_id)
    ),
    "since",
    "until",
)
_facts = (_A.product_id, _A.registration, _A.lot, _A.amount_unit, _day)
_in_span = (_within >= bindparam("since"), _within <= bindparam("until"), _stands)


@cache
def _spent(per: str) -> Prepared:
    return Prepared(_each_application if per == "visit" else lambda: _grouped(_KEYS[per]), "since", "until")


def _each_application() -> Select[Any]:
    """Return the statement for every application: of a visit hardly two are alike, and grouping them takes longer."""
    is_first = case((_A.line == ZERO, func.coalesce(_A.area_nano, ZERO)), else_=ZERO)
    return (
        select(
            _R.serial,
            *_facts,
            _A.uses,
            func.coalesce(_A.amount_nano, ZERO),
            case((_A.amount_nano.is_(None), _A.uses), else_=ZERO),
            func.coalesce(_A.area_nano, ZERO),
            is_first,
            case((_A.area_nano.is_(None), _A.uses), else_=ZERO),
            _R.address,
        )
        .join(_R, _R.id == _A.revision_id)
        .where(*_in_span)
    )


def _grouped(key: Any) -> Select[Any]:  # noqa: ANN401 - a mapped column of any row
    return (
        select(
            key,
            *_facts,
            _sum(_A.uses),
            _sum(_A.amount_nano),
            _unknown(_A.amount_nano),
            _sum(_A.area_nano),
            func.coalesce(func.sum(_A.area_nano).filter(_A.line == ZERO), ZERO),
            _unknown(_A.area_nano),
            null(),
        )
        .join(_R, _R.id == _A.revision_id)
        .where(*_in_span)
        .group_by(key, _A.product_id, _A.registration, _A.lot, _A.amount_unit, _R.local_date, _R.period)
    )


@cache
def _laid(per: str) -> Prepared:
    key = _R.serial if per == "visit" else _KEYS[per]
    return Prepared(
        lambda: (
            select(
                key,
                _A.revision_id,
                _A.treatment,
                _A.line,
                *_facts,
                case((_A.amount_nano.is_(None), _A.uses), else_=ZERO),
                func.coalesce(_A.area_nano, ZERO),
            )
            .join(_R, _R.id == _A.revision_id)
            .where(*_in_span)
        ),
        "since",
        "until",
    )


class SqlAccount:
    """Sums over the sealed applications of one book, within one transaction."""

    def __init__(self, link: Link) -> None:
        """Work on one transaction."""
        self._link = link

    def of_mixes(self, mixes: Sequence[str]) -> list[MixUse]:
        """Return what was taken out of some loads, load by load, each in the order of work."""
        return [MixUse._make(row) for mix in mixes for row in self._link.rows(_OF_MIX, mix)]

    def mix_sums(self) -> list[MixSum]:
        """Return what was taken out of every load, by product."""
        return [MixSum._make(row) for row in self._link.rows(_MIX_SUMS)]

    def used(self, product: str | None = None) -> list[Used]:
        """Return all that went out, by product, lot, label revision and unit."""
        rows = self._link.rows(_USED) if product is None else self._link.rows(_USED_OF, product)
        return [Used._make(row) for row in rows]

    def spent(self, per: str, since: str, until: str) -> list[Spent]:
        """Return what went out between two days, both included, by `visit`, `product`, `site` or `month`."""
        return list(map(Spent._make, self._link.rows(_spent(per), since, until)))

    def laid(self, per: str, since: str, until: str) -> list[Laid]:
        """Return every application between two days, both included, with its treatment and its ground."""
        return list(map(Laid._make, self._link.rows(_laid(per), since, until)))

    def lot_uses(self, product: str, lots: Sequence[str], since: str) -> list[LotUse]:
        """Return the applications of a product from a day on, oldest start first; of some lots where any are named."""
        wanted = set(lots)
        found = (LotUse._make(row) for row in self._link.rows(_LOT_USES, product, since))
        return [one for one in found if not wanted or one.lot in wanted]

    def serial(self, order: int) -> str:
        """Return the serial of a revision by its place in the order of sealing; "" where there is none."""
        row = self._link.row(_SERIAL, order)
        return "" if row is None else str(row[0])

    def addresses(self, since: str, until: str) -> dict[str, str]:
        """Return the addresses of the sites that were treated in a span of days."""
        return dict(self._link.rows(_ADDRESSES, since, until))
