"""The equipment of a record's treatments stands in its outline, in a file and on a server."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from tests.bodies import treatment
from tests.storage.chain import append, later, visit

if TYPE_CHECKING:
    from records.storage.unit_of_work import SqlBook


def _with(number: int, day: str, *machines: str | None) -> dict[str, object]:
    told = [{"id": one, "name": one} if one else None for one in machines]
    return visit(number, day, treatments=[treatment(equipment=one) for one in told])


def test_the_equipment_of_an_outline(book: SqlBook) -> None:
    """Every treatment's equipment is told once; one without any has none."""
    days = [
        _with(1, "2026-05-01", "can-1", "skid-1"),
        _with(2, "2026-06-01", "can-1", None),
        _with(3, "2026-07-01", "late"),
        _with(4, "2025-07-01", "early"),
        _with(5, "2026-05-02"),
    ]
    with book.write() as work:
        for body in days:
            append(work, body)
        voided = append(work, _with(6, "2026-06-02", "skid-1"))
        append(work, later(voided.body, "voided"), voided.serial, 2, "voided")
        work.commit()
    with book.read() as work:
        found = {one.serial: one.equipment for one in work.records.outlines(date(2026, 1, 1), date(2026, 6, 30))}
    assert found == {
        "2026-000001": ("can-1", "skid-1"),
        "2026-000002": ("can-1",),
        "2026-000004": (),
        "2026-000005": ("skid-1",),
    }
