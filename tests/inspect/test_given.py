"""What customers and others were told, and season totals that do not stop at the packet."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest

from records.errors import NotFoundError
from records.reports.render import PdfRenderer
from records.services.advance import log_contact
from records.services.delivering import deliver
from records.services.inspecting.packet import open_packet
from records.services.inspecting.request import Request
from tests.kit import BUSINESS, SITES, Kit

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from records.domain.packet_model import PacketModel

LATE = datetime(2026, 7, 15, 14, tzinfo=UTC)


@pytest.fixture
def kit(tmp_path: Path) -> Iterator[Kit]:
    """Return a firm that keeps Minnesota's rules, with three visits to one lawn."""
    made = Kit.at(tmp_path)
    neighbour = {"id": "vik", "name": "Vik Osei", "why": "asked", "phone": "612-555-0177"}
    made.load(business=BUSINESS | {"packs": ["us-mn"]}, sites=[SITES[0] | {"notify": [neighbour]}])
    made.set("2026-05-13T18:00")
    log_contact(made.book, made.clock, "mill-9", "vik", day="2026-05-14", how="phone", result="reached")
    for day in ("2026-05-14", "2026-06-18", "2026-06-30"):
        made.sealed(day, area="400 sq ft", rate="0.5 fl oz/1000 sq ft")
    yield made
    made.shut()


def packet(kit: Kit, request: Request) -> PacketModel:
    """Return the model of a packet made on 15 July."""
    with kit.book.read() as work:
        return open_packet(work, request).gather(date(2026, 7, 15), LATE)


def test_who_was_told_is_in_the_packet(kit: Kit) -> None:
    """The neighbour before, the customer after: when, to whom and how."""
    kit.set("2026-05-14T10:00")
    deliver(kit.book, PdfRenderer(), "2026-000001", kit.clock, how="paper")
    rows = list(packet(kit, Request(since=date(2026, 5, 1), until=date(2026, 5, 31))).table("told").rows)
    assert [(row[0], row[2], row[4], row[5]) for row in rows] == [
        ("2026-000001", "told beforehand", "Vik Osei", "phone: reached"),
        ("2026-000001", "copy to the customer", "Lise Aune", "paper"),
    ]


def test_a_copy_that_is_owed_is_not_complete(kit: Kit) -> None:
    """Minn. Stat. 18B.37: the customer gets a copy; what `ready` finds, the packet does not deny."""
    gaps = list(packet(kit, Request(since=date(2026, 5, 1), until=date(2026, 5, 31))).table("not_complete").rows)
    (told,) = [gap for gap in gaps if "copy" in gap[2]]
    assert told[0] == "2026-000001"
    assert "it was due 2026-05-19" in told[2]
    assert told[3].startswith("us-mn: Minn. Stat. 18B.37 subd. 2")
    kit.set("2026-06-01T10:00")
    deliver(kit.book, PdfRenderer(), "2026-000001", kit.clock, how="paper")
    gaps = list(packet(kit, Request(since=date(2026, 5, 1), until=date(2026, 5, 31))).table("not_complete").rows)
    assert any("given 2026-06-01 10:00" in gap[2] for gap in gaps)


def test_a_season_total_is_one_of_the_season(kit: Kit) -> None:
    """A packet of the last visit alone still counts the year: three visits, 12 days since the one before."""
    model = packet(kit, Request(since=date(2026, 6, 30), until=date(2026, 6, 30)))
    (total,) = list(model.table("active_totals").rows)
    # 3 x 0.5 fl oz/1000 sq ft x 400 sq ft = 0.6 fl oz; at 4 lb/gal (128 fl oz) that is 0.01875 lb, worked by hand
    assert (total[5], total[6]) == ("3", "0.0188")
    assert total[10] == "12"
    whole = packet(kit, Request(since=date(2026, 1, 1), until=date(2026, 12, 31)))
    assert list(whole.table("active_totals").rows) == [total]


@pytest.mark.parametrize(
    "request_",
    [
        Request(person="Ruht"),
        Request(customer="zzz"),
        Request(product="zzz"),
        Request(active="zzz"),
        Request(registration="99999-9"),
    ],
)
def test_a_name_that_nobody_has_is_refused(kit: Kit, request_: Request) -> None:
    """A slip of the pen is no clean answer to an inspector."""
    with pytest.raises(NotFoundError, match="no record of the book names"):
        packet(kit, request_)


def test_a_number_is_found_as_pages_print_it(kit: Kit) -> None:
    """With the words before it."""
    model = packet(kit, Request(registration="EPA Reg. No. 99999-51"))
    assert model.counts[0].value == "3"
