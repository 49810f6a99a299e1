"""Takes the records of a whole year out of a book, once their time of keeping is over and a sealed event says so.

Of each revision a stub stays: its place in the chain, serial, revision and seal. The event seals a digest over all of
them, so that `verify` can tell that nothing else has gone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import bindparam, delete, insert, select

from records.errors import StorageError
from records.services.stubs import StubSum, says
from records.storage.link import ZERO, Prepared
from records.storage.schema import OF_A_YEAR, TRIGGERS, server_trigger
from records.storage.tables import ActiveRow, ApplicationRow, RemovedRow, RevisionRow, TargetRow, UseGroupRow, ZoneRow

if TYPE_CHECKING:
    from records.services.ports import StoredRevision, YearStubs
    from records.storage.link import Link

_R, _A, _G, _D = RevisionRow, ApplicationRow, UseGroupRow, RemovedRow
_of_year = (_R.year == bindparam("year"), _R.year > ZERO)  # never the events, which stand in the year 0
_applications = select(_A.id).join(_R, _R.id == _A.revision_id).where(*_of_year)
_STUBS = Prepared(
    lambda: select(_R.id, _R.serial, _R.revision, _R.seal).where(*_of_year).order_by(_R.id),
    "year",
)
_KEEP = Prepared(
    lambda: insert(_D).from_select(
        ["id", "serial", "revision", "seal", "event_serial"],
        select(_R.id, _R.serial, _R.revision, _R.seal, bindparam("event")).where(*_of_year).order_by(_R.id),
    ),
    "event",
    "year",
)


def _clearing(row: Any) -> Prepared:  # noqa: ANN401 - any row that belongs to an application
    return Prepared(lambda: delete(row).where(row.application_id.in_(_applications)), "year")


_CLEAR = (
    *(_clearing(row) for row in (TargetRow, ActiveRow, ZoneRow)),
    Prepared(lambda: delete(_A).where(_A.revision_id.in_(select(_R.id).where(*_of_year))), "year"),
    Prepared(lambda: delete(_R).where(*_of_year), "year"),
)
_CLEAR_GROUPS = Prepared(lambda: delete(_G).where(~select(_A.id).where(_A.use_group_id == _G.id).exists()))
_LIFTED = tuple(f"{table}_no_delete" for table in OF_A_YEAR)


def stubs_of(link: Link, year: int) -> YearStubs | None:
    """Return what a removal of a year has to seal; None when it holds nothing."""
    total = StubSum()
    for row in link.iterate(_STUBS, year):
        total.add(*row)
    return total.result() if total.count else None


def remove_year(link: Link, year: int, event: StoredRevision) -> int:
    """Put stubs in place of a year's revisions, and delete these with all that is derived from them.

    The protections are lifted for the tables concerned and put back; a failure undoes all of it.

    Args:
        link: a writing transaction.
        year: of the serials.
        event: the sealed removal.

    Returns:
        How many revisions went.

    Raises:
        StorageError: the event does not say what the year holds, or the book refused.
    """
    stubs = stubs_of(link, year)
    origin = event.body["origin"]["kind"] if event.body["kind"] == "event" else None
    if stubs is None or origin != "removal" or not says(event.body, year, stubs):
        raise StorageError(
            f"the sealed removal does not say what the book holds of {year}", "Nothing was removed; try again"
        )
    if not link.is_server:
        link.change("PRAGMA secure_delete=ON")  # what is removed is overwritten, not only unlisted
    link.change("SAVEPOINT removal")
    try:
        for name in _LIFTED:
            on = f" ON {name.removesuffix('_no_delete')}" if link.is_server else ""
            link.change(f"DROP TRIGGER {name}{on}")
        link.rows(_KEEP, event.serial, year)
        for statement in _CLEAR:
            link.rows(statement, year)
        link.rows(_CLEAR_GROUPS)
        for name in _LIFTED:
            link.change(server_trigger(name) if link.is_server else TRIGGERS[name])
    except BaseException:
        link.change("ROLLBACK TO SAVEPOINT removal")
        raise
    finally:
        link.change("RELEASE SAVEPOINT removal")
    return stubs.count
